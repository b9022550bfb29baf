"""What bounds a line, in the patient's words: where to turn back, and the splint. Pure.

Degrees say little to most people, so a place in sight stands beside them where there is one; such
places are common practice, no source, and never promise more than the angle allows.

>>> bound_words("en").said(("shoulder_flexion", 90), "sitting", "on")[0]
'Only up to here: 90° at the shoulder, shoulder height.'
>>> bound_words("es").said(("elbow_extension", -30), "sitting", "")[0]
'Solo hasta aquí: 30° antes de estirar el codo.'
>>> bound_words("en").said(None, "sitting", "")
()
"""

from collections.abc import Mapping
from dataclasses import dataclass

from clinic.languages import base_code
from patients.motions import MOTIONS, Joint
from plans.stopped import Stop

UPRIGHT = ("sitting", "sitting_at_table", "standing")
ABOUT_DEG = 5
"""So far below a place in sight an angle still goes by its name."""


@dataclass(frozen=True)
class BoundWords:
    """The words of one language. ``{…}`` are filled in; ``places`` go by :func:`place_of`."""

    only_to: str
    only_to_place: str
    stop_there: str
    short_of: Mapping[Joint, str]
    at: Mapping[Joint, str]
    turned: Mapping[str, str]
    places: Mapping[str, str]
    orthosis: Mapping[str, str]

    def said(self, stop: Stop | None, position: str, orthosis: str) -> tuple[str, ...]:
        """Return a sentence for each bound that a line has."""
        stops = (self.stop(stop, position), self.stop_there) if stop else ()
        return (*stops, *((self.orthosis[orthosis],) if orthosis else ()))

    def stop(self, stop: Stop, position: str) -> str:
        """Return where a movement turns back, in degrees and at a place in sight."""
        motion, stop_deg = stop
        joint = MOTIONS[motion].joint
        if stop_deg < 0:
            return self.only_to.format(here=self.short_of[joint].format(n=-stop_deg))
        here = self.turned.get(motion, self.at[joint]).format(n=stop_deg)
        place = self.places.get(place_of(stop, position), "")
        form = self.only_to_place if place else self.only_to
        return form.format(here=here, place=place)


def place_of(stop: Stop, position: str) -> str:
    """Return which place in sight an angle is at, or just short of; empty where there is none.

    >>> place_of(("shoulder_flexion", 90), "lying_back")
    'ceiling'
    >>> place_of(("shoulder_flexion", 70), "standing")
    'below_shoulder'
    """
    motion, stop_deg = stop
    is_level, is_below = 90 - ABOUT_DEG <= stop_deg <= 90, 0 < stop_deg < 90 - ABOUT_DEG
    match motion:
        case "shoulder_flexion" | "shoulder_abduction" if position in UPRIGHT:
            return "shoulder" if is_level else "below_shoulder" if is_below else ""
        case "shoulder_flexion" if position == "lying_back":
            return "ceiling" if is_level else "before_ceiling" if is_below else ""
        case "shoulder_abduction" if is_level:
            return "side"
        case "shoulder_flexion" if is_level and position == "lying_side":
            return "front"
        case "elbow_flexion" if is_level:
            return "right_angle"
        case "elbow_extension" if stop_deg == 0:
            return "straight"
        case "wrist_flexion" | "wrist_extension" if stop_deg <= ABOUT_DEG:
            return "in_line"
    return ""


ENGLISH = BoundWords(
    only_to="Only up to here: {here}.",
    only_to_place="Only up to here: {here}, {place}.",
    stop_there="Stop there, even if a step says more.",
    short_of={
        Joint.SHOULDER_BLADE: "{n}° before the middle",
        Joint.SHOULDER: "{n}° before the middle",
        Joint.ELBOW: "{n}° before the elbow is straight",
        Joint.FOREARM: "{n}° before the thumb points up",
        Joint.WRIST: "{n}° before the hand is straight",
        Joint.FINGERS: "{n}° before the fingers are straight",
        Joint.THUMB: "{n}° before the thumb is straight",
    },
    at={
        Joint.SHOULDER_BLADE: "{n}° at the shoulder blade",
        Joint.SHOULDER: "{n}° at the shoulder",
        Joint.ELBOW: "{n}° at the elbow",
        Joint.FOREARM: "{n}° of turn",
        Joint.WRIST: "{n}° at the wrist",
        Joint.FINGERS: "{n}° at the fingers",
        Joint.THUMB: "{n}° at the thumb",
    },
    turned={
        "shoulder_external_rotation": "the forearm turned out by {n}°",
        "shoulder_internal_rotation": "the forearm turned in by {n}°",
        "forearm_supination": "the palm turned up by {n}°",
        "forearm_pronation": "the palm turned down by {n}°",
        "wrist_extension": "the hand bent back by {n}°",
        "wrist_flexion": "the hand bent to the palm side by {n}°",
        "elbow_flexion": "the elbow bent by {n}°",
    },
    places={
        "shoulder": "shoulder height",
        "below_shoulder": "below shoulder height",
        "ceiling": "arm to the ceiling",
        "before_ceiling": "before the arm points to the ceiling",
        "side": "arm straight out to the side",
        "front": "arm straight out in front",
        "right_angle": "a right angle",
        "straight": "arm straight",
        "in_line": "hand in line with the arm",
    },
    orthosis={
        "on": "Keep your splint or sling on.",
        "off": "Take your splint or sling off for this. Then put it back on.",
    },
)

SPANISH = BoundWords(
    only_to="Solo hasta aquí: {here}.",
    only_to_place="Solo hasta aquí: {here}, {place}.",
    stop_there="Pare ahí, aunque un paso diga más.",
    short_of={
        Joint.SHOULDER_BLADE: "{n}° antes del medio",
        Joint.SHOULDER: "{n}° antes del medio",
        Joint.ELBOW: "{n}° antes de estirar el codo",
        Joint.FOREARM: "{n}° antes de que el pulgar mire arriba",
        Joint.WRIST: "{n}° antes de enderezar la mano",
        Joint.FINGERS: "{n}° antes de estirar los dedos",
        Joint.THUMB: "{n}° antes de estirar el pulgar",
    },
    at={
        Joint.SHOULDER_BLADE: "{n}° en el omóplato",
        Joint.SHOULDER: "{n}° en el hombro",
        Joint.ELBOW: "{n}° en el codo",
        Joint.FOREARM: "{n}° de giro",
        Joint.WRIST: "{n}° en la muñeca",
        Joint.FINGERS: "{n}° en los dedos",
        Joint.THUMB: "{n}° en el pulgar",
    },
    turned={
        "shoulder_external_rotation": "el antebrazo girado {n}° hacia fuera",
        "shoulder_internal_rotation": "el antebrazo girado {n}° hacia dentro",
        "forearm_supination": "la palma girada {n}° hacia arriba",
        "forearm_pronation": "la palma girada {n}° hacia abajo",
        "wrist_extension": "la mano doblada {n}° hacia atrás",
        "wrist_flexion": "la mano doblada {n}° hacia la palma",
        "elbow_flexion": "el codo doblado {n}°",
    },
    places={
        "shoulder": "a la altura del hombro",
        "below_shoulder": "por debajo del hombro",
        "ceiling": "el brazo hacia el techo",
        "before_ceiling": "antes de que el brazo mire al techo",
        "side": "el brazo recto hacia el lado",
        "front": "el brazo recto hacia delante",
        "right_angle": "en escuadra",
        "straight": "el brazo recto",
        "in_line": "la mano en línea con el brazo",
    },
    orthosis={
        "on": "No se quite la férula ni el cabestrillo.",
        "off": "Quítese la férula o el cabestrillo para esto. Después, vuelva a ponérselo.",
    },
)

ARABIC = BoundWords(
    only_to="إلى هنا فقط: {here}.",
    only_to_place="إلى هنا فقط: {here}، {place}.",
    stop_there="توقف هناك، حتى لو ذكرت خطوة أكثر من ذلك.",
    short_of={
        Joint.SHOULDER_BLADE: "قبل الوسط بـ {n}°",
        Joint.SHOULDER: "قبل الوسط بـ {n}°",
        Joint.ELBOW: "قبل استقامة المرفق بـ {n}°",
        Joint.FOREARM: "قبل أن يتجه الإبهام إلى أعلى بـ {n}°",
        Joint.WRIST: "قبل استقامة اليد بـ {n}°",
        Joint.FINGERS: "قبل استقامة الأصابع بـ {n}°",
        Joint.THUMB: "قبل استقامة الإبهام بـ {n}°",
    },
    at={
        Joint.SHOULDER_BLADE: "{n}° عند لوح الكتف",
        Joint.SHOULDER: "{n}° عند الكتف",
        Joint.ELBOW: "{n}° عند المرفق",
        Joint.FOREARM: "{n}° من الدوران",
        Joint.WRIST: "{n}° عند المعصم",
        Joint.FINGERS: "{n}° عند الأصابع",
        Joint.THUMB: "{n}° عند الإبهام",
    },
    turned={
        "shoulder_external_rotation": "الساعد ملتف إلى الخارج {n}°",
        "shoulder_internal_rotation": "الساعد ملتف إلى الداخل {n}°",
        "forearm_supination": "راحة اليد ملتفة إلى أعلى {n}°",
        "forearm_pronation": "راحة اليد ملتفة إلى أسفل {n}°",
        "wrist_extension": "اليد مثنية إلى الخلف {n}°",
        "wrist_flexion": "اليد مثنية نحو الراحة {n}°",
        "elbow_flexion": "المرفق مثني {n}°",
    },
    places={
        "shoulder": "عند مستوى الكتف",
        "below_shoulder": "تحت مستوى الكتف",
        "ceiling": "الذراع نحو السقف",
        "before_ceiling": "قبل أن تتجه الذراع نحو السقف",
        "side": "الذراع ممدودة إلى الجانب",
        "front": "الذراع ممدودة إلى الأمام",
        "right_angle": "زاوية قائمة",
        "straight": "الذراع مستقيمة",
        "in_line": "اليد على خط واحد مع الذراع",
    },
    orthosis={
        "on": "أبقِ الجبيرة أو حمالة الذراع في مكانها.",
        "off": "انزع الجبيرة أو حمالة الذراع لهذا التمرين، ثم أعدها بعده.",
    },
)


def bound_words(language: str) -> BoundWords:
    """Return the words in a language that we offer, else in English."""
    return {"es": SPANISH, "ar": ARABIC}.get(base_code(language), ENGLISH)
