"""The sheet's own words, complete in each language that we offer.

Pure. Words of exercises and of stop signs come from fixtures; these are what stands around them.

>>> from datetime import date
>>> ENGLISH.days(frozenset({0, 2, 4})), SPANISH.days(frozenset({0, 2, 4}))
('on Monday, Wednesday and Friday', 'los lunes, miércoles y viernes')
>>> ENGLISH.day(date(2026, 11, 2)), SPANISH.day(date(2026, 11, 2))
('Monday 2 November', 'lunes 2 de noviembre')
>>> ARABIC.day(date(2026, 11, 2))
'الاثنين 2 نوفمبر'
"""

from clinic.languages import base_code
from patients.motions import Effort
from plans.catalogue import Equipment, Position
from plans.sheet_arabic import ARABIC
from plans.sheet_language import SheetWords

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
    too_hard="Too hard today?",
    easier="Then do the easier step: {step}. {do}",
    steps={
        Effort.PASSIVE: "it is moved for you",
        Effort.SELF_ASSISTED: "your other hand helps",
        Effort.GRAVITY_REDUCED: "with no weight to lift",
        Effort.ACTIVE: "by its own strength",
        Effort.RESISTED: "against a load",
    },
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
    diary_effort="how hard",
    diary_why="why not",
    diary_how_more="How hard it was is also a number from 0 to 10.",
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
    span_glance="{}–{}",
    joined="{} and {}",
    comma=", ",
    sets_of=("{} set of", "{} sets of"),
    sets_glance=("{} ×",),
    seconds_glance=("{} s",),
    minutes_glance=("{} min",),
    repetitions=("{} time", "{} times"),
    seconds=("{} second of hold", "{} seconds of hold"),
    minutes=("{} minute", "{} minutes"),
    times=("{} time", "{} times"),
    hold=("Hold each one for 1 second.", "Hold each one for {} seconds."),
    pace=("Take about 1 second for each.", "Take about {} seconds for each."),
    rest_s=("Rest 1 second between sets.", "Rest {} seconds between sets."),
    rest_min=("Rest 1 minute between sets.", "Rest {} minutes between sets."),
    more_if_easy=(
        "If it is easy, you may do up to 2 more.",
        "If it is easy, you may do up to 2 more in each set.",
    ),
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
    often="{sessions}, {days}.",
    every_day="every day",
    on_days="on {days}",
    weekdays="Monday Tuesday Wednesday Thursday Friday Saturday Sunday",
    months=(
        "January February March April May June July August September October November December"
    ),
    day_form="{weekday} {day} {month}",
    day_with_year_form="{day} {year}",
    short_day_form="{weekday:.3} {day} {month:.3}",
    decimal_mark=".",
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
    too_hard="¿Hoy le cuesta demasiado?",
    easier="Entonces haga el paso más fácil: {step}. {do}",
    steps={
        Effort.PASSIVE: "se lo mueven",
        Effort.SELF_ASSISTED: "ayuda la otra mano",
        Effort.GRAVITY_REDUCED: "sin peso que levantar",
        Effort.ACTIVE: "con su propia fuerza",
        Effort.RESISTED: "contra una carga",
    },
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
    diary_effort="cuánto costó",
    diary_why="por qué no",
    diary_how_more="Cuánto costó es también un número de 0 a 10.",
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
    span_glance="{}–{}",
    joined="{} y {}",
    comma=", ",
    sets_of=("{} serie de", "{} series de"),
    sets_glance=("{} ×",),
    seconds_glance=("{} s",),
    minutes_glance=("{} min",),
    repetitions=("{} vez", "{} veces"),
    seconds=("{} segundo sin mover", "{} segundos sin mover"),
    minutes=("{} minuto", "{} minutos"),
    times=("{} vez", "{} veces"),
    hold=("Mantenga cada una 1 segundo.", "Mantenga cada una {} segundos."),
    pace=("Tarde más o menos 1 segundo en cada una.", "Tarde unos {} segundos en cada una."),
    rest_s=("Descanse 1 segundo entre series.", "Descanse {} segundos entre series."),
    rest_min=("Descanse 1 minuto entre series.", "Descanse {} minutos entre series."),
    more_if_easy=(
        "Si le resulta fácil, puede hacer hasta 2 más.",
        "Si le resulta fácil, puede hacer hasta 2 más en cada serie.",
    ),
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
    often="{sessions}, {days}.",
    every_day="todos los días",
    on_days="los {days}",
    weekdays="lunes martes miércoles jueves viernes sábado domingo",
    months=(
        "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre"
    ),
    day_form="{weekday} {day} de {month}",
    day_with_year_form="{day} de {year}",
    short_day_form="{weekday:.3} {day} {month:.3}",
    decimal_mark=",",
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
    """Return the sheet's words in a language that we offer, else in English."""
    return {"es": SPANISH, "ar": ARABIC}.get(base_code(language), ENGLISH)
