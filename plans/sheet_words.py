"""The sheet's own words, complete in English and Spanish, and doses, days and places in words.

Pure. Words of exercises and of stop signs come from fixtures; these are what stands around them.

>>> ENGLISH.days(frozenset({0, 2, 4})), SPANISH.days(frozenset({0, 2, 4}))
('on Monday, Wednesday and Friday', 'los lunes, miércoles y viernes')
>>> ENGLISH.day(date(2026, 11, 2)), SPANISH.day(date(2026, 11, 2))
('Monday 2 November', 'lunes 2 de noviembre')
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from plans.catalogue import Equipment, Position
from plans.dose import LineDose
from plans.schedule import Unit


@dataclass(frozen=True)
class DoseWords:
    """A dose for the patient: at a glance, in sentences, and how often."""

    glance: str
    sentences: tuple[str, ...]
    often: str


@dataclass(frozen=True)
class SheetWords:
    """Everything that a sheet says in one language. ``{…}`` are filled in.

    Pairs are for one and for more than one; the week and the year are their names in order.
    """

    language: str
    title: str
    plan: str
    from_day: str
    clinic_number: str
    ring_us: str
    ring: str
    changed: str
    pain_heading: str
    pain_rule: str
    no_exercises: str
    replaced: str
    exercises_heading: str
    your_helper: str
    helper: str
    you_need: str
    take_care: str
    note: str
    in_order: str
    stop_heading: str
    nobody_watches: str
    diary_heading: str
    diary_span: str
    diary_how: str
    diary_done: str
    diary_pain: str
    diary_before: str
    diary_worst: str
    diary_after: str
    diary_next_morning: str
    ordinals: tuple[str, ...]
    diary_paused: str
    diary_nothing: str
    diary_notes: str
    page_of: str
    fridge_title: str
    phone_heading: str
    phone_how: str
    side_left: str
    side_right: str
    side_both: str
    hands_together: str
    span: str
    joined: str
    sets: str
    repetitions: tuple[str, str]
    seconds: tuple[str, str]
    minutes: tuple[str, str]
    times: tuple[str, str]
    hold: tuple[str, str]
    pace: tuple[str, str]
    rest_s: tuple[str, str]
    rest_min: tuple[str, str]
    loads: dict[str, str]
    loads_kg: dict[str, str]
    sessions: tuple[str, str, str]
    every_day: str
    on_days: str
    weekdays: str
    months: str
    day_form: str
    positions: dict[Position, str]
    equipment: dict[Equipment, str]

    @property
    def direction(self) -> str:
        """Which way the language is written, as HTML's ``dir`` says it."""
        return "rtl" if self.language in ("ar", "fa", "he", "ur") else "ltr"

    def day(self, day: date) -> str:
        """Return a day with its weekday, without the year."""
        return self.day_form.format(
            weekday=self.weekdays.split()[day.weekday()],
            day=day.day,
            month=self.months.split()[day.month - 1],
        )

    def day_with_year(self, day: date) -> str:
        """Return a day with its weekday and year."""
        return f"{self.day(day)} {'de ' if self.language == 'es' else ''}{day.year}"

    def short_day(self, day: date) -> str:
        """Return a day as it fits a narrow column."""
        weekday, month = self.weekdays.split()[day.weekday()], self.months.split()[day.month - 1]
        return f"{weekday[:3]} {day.day} {month[:3]}"

    def session(self, number: int) -> str:
        """Return the place of a session in its day."""
        return self.ordinals[min(number, len(self.ordinals)) - 1].format(number)

    def side(self, side: str, *, sided: bool) -> str:
        """Return which arm."""
        if not sided:
            return self.hands_together
        return {"left": self.side_left, "right": self.side_right}.get(side, self.side_both)

    def things(self, equipment: Sequence[Equipment]) -> str:
        """Return what must be at hand, as a list in words; empty where nothing."""
        return ", ".join(dict.fromkeys(self.equipment[thing] for thing in equipment))

    def days(self, weekdays: frozenset[int]) -> str:
        """Return the days of the week on which something is due."""
        if len(weekdays) == 7:
            return self.every_day
        names = [self.weekdays.split()[day] for day in sorted(weekdays)]
        listed = ", ".join(names[:-1])
        return self.on_days.format(
            days=self.joined.format(listed, names[-1]) if listed else names[0]
        )

    def dose(self, dose: LineDose) -> DoseWords:
        """Return a dose: what one session asks for, and how often."""
        return DoseWords(
            glance=self._glance(dose),
            sentences=tuple(sentence for sentence in self._sentences(dose) if sentence),
            often=f"{self._sessions(dose.sessions_per_day)}, {self.days(dose.weekdays)}.",
        )

    def _glance(self, dose: LineDose) -> str:
        ends = dict.fromkeys((dose.amount_low, dose.amount_high))
        short = {Unit.SECONDS: "\N{NO-BREAK SPACE}s", Unit.MINUTES: "\N{NO-BREAK SPACE}min"}.get(
            dose.unit, ""
        )
        amount = f"{'–'.join(map(str, ends))}{short}"
        if dose.sets > 1:
            return f"{dose.sets}\N{NO-BREAK SPACE}×\N{NO-BREAK SPACE}{amount}"
        counted = self.repetitions if dose.unit in (Unit.REPETITIONS, Unit.TIMES) else ("{}", "{}")
        return _said(counted, dose.amount_high, amount).replace(" ", "\N{NO-BREAK SPACE}")

    def _sentences(self, dose: LineDose) -> list[str]:
        amount = str(dose.amount_low)
        if dose.amount_high != dose.amount_low:
            amount = self.span.format(dose.amount_low, dose.amount_high)
        counted = {
            Unit.REPETITIONS: self.repetitions,
            Unit.SECONDS: self.seconds,
            Unit.MINUTES: self.minutes,
            Unit.TIMES: self.times,
        }[dose.unit]
        asked = f"{_said(counted, dose.amount_high, amount)}."
        if dose.sets > 1:
            asked = f"{self.sets.format(dose.sets)} {asked}"
        in_minutes = dose.rest_s % 60 == 0
        rest = _one_or_more(
            self.rest_min if in_minutes else self.rest_s, dose.rest_s // (60 if in_minutes else 1)
        )
        return [
            asked,
            _one_or_more(self.hold, dose.hold_s) if dose.hold_s else "",
            _said(self.pace, dose.pace_s, self.number(dose.pace_s)) if dose.pace_s else "",
            rest if dose.rest_s and dose.sets > 1 else "",
            self.load(dose),
        ]

    def load(self, dose: LineDose) -> str:
        """Return what resists, with its weight where one is set; empty where nothing does."""
        if not dose.load_g:
            return self.loads.get(dose.load_means, "")
        kilograms = self.number(Decimal(dose.load_g) / 1000)
        return self.loads_kg[dose.load_means].format(kilograms)

    def number(self, value: float | Decimal) -> str:
        """Return a number with this language's decimal mark."""
        text = f"{Decimal(str(value)).normalize():f}"
        return text.replace(".", ",") if self.language == "es" else text

    def _sessions(self, sessions_per_day: int) -> str:
        if sessions_per_day <= 2:
            return self.sessions[sessions_per_day - 1]
        return self.sessions[2].format(sessions_per_day)


def _one_or_more(pair: tuple[str, str], count: int) -> str:
    return _said(pair, count, str(count))


def _said(pair: tuple[str, str], count: float, shown: str) -> str:
    return pair[0 if count == 1 else 1].format(shown)


ENGLISH = SheetWords(
    language="en",
    title="Your home exercises",
    plan="Plan {number}",
    from_day="from {day}",
    clinic_number="Number {number}",
    ring_us="Ring us",
    ring="Ring {number}",
    changed="What is new.",
    pain_heading="Your pain limit is {limit}",
    pain_rule=(
        "0 is no pain. 10 is the worst pain that you can think of. Stop an exercise when your pain "
        "goes above {limit}. If it is still higher the next morning, ring us that day."
    ),
    no_exercises="Your plan has no exercises now. If you have a question, ring us.",
    replaced="This plan no longer holds: plan {number} took its place on {day}.",
    exercises_heading="Your exercises",
    your_helper="your helper",
    helper="With the help of {name}.",
    you_need="You need: {things}.",
    take_care="Take care.",
    note="From your therapist.",
    in_order="Do them in this order.",
    stop_heading="When to stop, and whom to ring",
    nobody_watches="Nobody sees this sheet until you bring it. So ring; do not only write it down.",
    diary_heading="Diary",
    diary_span="{first} to {last}",
    diary_how=(
        "The numbers are those of your exercises. Tick what you have done. If it was less or more, "
        "write how many. For pain, write a number from 0 to 10. Bring this page to your next visit."
    ),
    diary_done="Done",
    diary_pain="Pain, 0 to 10",
    diary_before="before",
    diary_worst="worst",
    diary_after="after",
    diary_next_morning="next morning",
    ordinals=("1st", "2nd", "3rd", "{}th"),
    diary_paused="Pause: no exercises",
    diary_nothing="No exercises today",
    diary_notes="Notes",
    page_of="Page {page} of {pages}",
    fridge_title="Your exercises at a glance",
    phone_heading="The plan on your phone",
    phone_how=(
        "Point your phone’s camera at this square and press the button on the page that opens. "
        "It works once, for one phone, until {day}. Until then, show this page to nobody else."
    ),
    side_left="Left arm",
    side_right="Right arm",
    side_both="Both arms, one after the other",
    hands_together="Both hands together",
    span="{} to {}",
    joined="{} and {}",
    sets="{} sets of",
    repetitions=("{} time", "{} times"),
    seconds=("{} second of hold", "{} seconds of hold"),
    minutes=("{} minute", "{} minutes"),
    times=("{} time", "{} times"),
    hold=("Hold each one for 1 second.", "Hold each one for {} seconds."),
    pace=("Take about 1 second for each.", "Take about {} seconds for each."),
    rest_s=("Rest 1 second between sets.", "Rest {} seconds between sets."),
    rest_min=("Rest 1 minute between sets.", "Rest {} minutes between sets."),
    loads={
        "held": "Hold the weight from your therapist.",
        "cuff": "Wear the cuff from your therapist.",
        "band": "Use your elastic band.",
        "putty": "Use your putty.",
        "other_hand": "Your other hand gives the load.",
    },
    loads_kg={
        "held": "Hold a weight of {} kg.",
        "cuff": "Wear a cuff of {} kg.",
        "band": "Use your elastic band ({} kg).",
        "putty": "Use your putty ({} kg).",
        "other_hand": "Your other hand gives the load ({} kg).",
    },
    sessions=("Once a day", "Twice a day", "{} times a day"),
    every_day="every day",
    on_days="on {days}",
    weekdays="Monday Tuesday Wednesday Thursday Friday Saturday Sunday",
    months=(
        "January February March April May June July August September October November December"
    ),
    day_form="{weekday} {day} {month}",
    positions={
        Position.LYING_BACK: "Lying on your back",
        Position.LYING_SIDE: "Lying on your side",
        Position.SITTING: "Sitting",
        Position.SITTING_AT_TABLE: "Sitting at a table",
        Position.STANDING: "Standing",
        Position.LEANING_FORWARD: "Leaning forward",
    },
    equipment={thing: thing.label for thing in Equipment},
)

SPANISH = SheetWords(
    language="es",
    title="Sus ejercicios en casa",
    plan="Plan {number}",
    from_day="desde el {day}",
    clinic_number="Número {number}",
    ring_us="Llámenos",
    ring="Llame al {number}",
    changed="Lo nuevo.",
    pain_heading="Su límite de dolor es {limit}",
    pain_rule=(
        "0 es ningún dolor. 10 es el peor dolor que pueda imaginar. Pare el ejercicio si el dolor "
        "pasa de {limit}. Si a la mañana siguiente sigue más alto, llámenos ese mismo día."
    ),
    no_exercises="Su plan no tiene ejercicios ahora. Si tiene alguna pregunta, llámenos.",
    replaced="Este plan ya no vale: el plan {number} lo sustituyó el {day}.",
    exercises_heading="Sus ejercicios",
    your_helper="su ayudante",
    helper="Con la ayuda de {name}.",
    you_need="Necesita: {things}.",
    take_care="Cuidado.",
    note="De su terapeuta.",
    in_order="Hágalos en este orden.",
    stop_heading="Cuándo parar y a quién llamar",
    nobody_watches=(
        "Nadie ve esta hoja hasta que usted la trae. Por eso, llame; no basta con apuntarlo."
    ),
    diary_heading="Diario",
    diary_span="{first} a {last}",
    diary_how=(
        "Los números son los de sus ejercicios. Marque lo que haya hecho. Si fue menos o más, "
        "escriba cuántas. Para el dolor, escriba un número de 0 a 10. "
        "Traiga esta página a su próxima visita."
    ),
    diary_done="Hecho",
    diary_pain="Dolor, de 0 a 10",
    diary_before="antes",
    diary_worst="lo peor",
    diary_after="después",
    diary_next_morning="mañana siguiente",
    ordinals=("{}.ª",),
    diary_paused="Pausa: sin ejercicios",
    diary_nothing="Hoy no hay ejercicios",
    diary_notes="Notas",
    page_of="Página {page} de {pages}",
    fridge_title="Sus ejercicios de un vistazo",
    phone_heading="El plan en su teléfono",
    phone_how=(
        "Apunte la cámara del teléfono a este cuadro y pulse el botón de la página que se abre. "
        "Sirve una vez, para un teléfono, hasta el {day}. "
        "Hasta entonces, no enseñe esta página a nadie más."
    ),
    side_left="Brazo izquierdo",
    side_right="Brazo derecho",
    side_both="Los dos brazos, uno tras otro",
    hands_together="Las dos manos a la vez",
    span="{} a {}",
    joined="{} y {}",
    sets="{} series de",
    repetitions=("{} vez", "{} veces"),
    seconds=("{} segundo sin mover", "{} segundos sin mover"),
    minutes=("{} minuto", "{} minutos"),
    times=("{} vez", "{} veces"),
    hold=("Mantenga cada una 1 segundo.", "Mantenga cada una {} segundos."),
    pace=("Tarde más o menos 1 segundo en cada una.", "Tarde unos {} segundos en cada una."),
    rest_s=("Descanse 1 segundo entre series.", "Descanse {} segundos entre series."),
    rest_min=("Descanse 1 minuto entre series.", "Descanse {} minutos entre series."),
    loads={
        "held": "Tome en la mano la pesa de su terapeuta.",
        "cuff": "Póngase la pesa de su terapeuta.",
        "band": "Use su banda elástica.",
        "putty": "Use su masilla.",
        "other_hand": "La otra mano hace la resistencia.",
    },
    loads_kg={
        "held": "Tome en la mano una pesa de {} kg.",
        "cuff": "Póngase una pesa de {} kg.",
        "band": "Use su banda elástica ({} kg).",
        "putty": "Use su masilla ({} kg).",
        "other_hand": "La otra mano hace la resistencia ({} kg).",
    },
    sessions=("Una vez al día", "Dos veces al día", "{} veces al día"),
    every_day="todos los días",
    on_days="los {days}",
    weekdays="lunes martes miércoles jueves viernes sábado domingo",
    months=(
        "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre"
    ),
    day_form="{weekday} {day} de {month}",
    positions={
        Position.LYING_BACK: "Boca arriba",
        Position.LYING_SIDE: "De lado",
        Position.SITTING: "Sentado",
        Position.SITTING_AT_TABLE: "Sentado a la mesa",
        Position.STANDING: "De pie",
        Position.LEANING_FORWARD: "Inclinado hacia delante",
    },
    equipment={
        Equipment.BAND: "banda elástica",
        Equipment.BED: "cama",
        Equipment.CARDS: "cartas",
        Equipment.CHAIR: "silla",
        Equipment.CLOTH: "paño",
        Equipment.CREAM: "crema",
        Equipment.CUFF_WEIGHT: "pesa de tobillo o muñeca",
        Equipment.CUP: "taza",
        Equipment.HAND_WEIGHT: "pesa de mano",
        Equipment.PAPER: "papel",
        Equipment.PILLOW: "almohada",
        Equipment.PUTTY: "masilla",
        Equipment.RUBBER_BAND: "goma elástica",
        Equipment.SMOOTH_BOARD: "tabla lisa",
        Equipment.STICK: "bastón",
        Equipment.TABLE: "mesa",
        Equipment.TOWEL: "toalla",
        Equipment.WALL: "pared",
    },
)


def sheet_words(language: str) -> SheetWords:
    """Return the sheet's words in Spanish where asked for, else in English."""
    return SPANISH if language.lower().partition("-")[0] == "es" else ENGLISH
