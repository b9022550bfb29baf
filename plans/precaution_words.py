"""What a patient must not do yet, in their words: the hard precautions of a day. Pure.

A sheet that only teaches exercises leaves the rest of the day unsaid. A limit is said as what the
arm must not do, without diagnosis, protocol or degrees that stand beside a line already. Motions
that are only forbidden together have no short plain words, and are left to the therapist to say.

>>> from patients.precautions import Kind, Limit
>>> no_load = Limit(key=1, kind=Kind.LOAD, side=Side.RIGHT, limit_g=0)
>>> told(PRECAUTIONS["en"], [no_load])
('Do not lift, carry or pull anything with your right arm.',)
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from clinic.languages import base_code
from patients.motions import MOTIONS, Joint, Side
from patients.precautions import Kind, Limit

LEVELS = ("passive", "self_assisted", "active")
"""Highest efforts that a precaution may allow, from the lowest."""


@dataclass(frozen=True)
class PrecautionWords:
    """The words of one language. ``{part}`` is a part of the arm: left, right or both."""

    heading: str
    until: str
    efforts: Mapping[str, str]
    no_load: str
    load_up_to: str
    bearing: str
    traction: str
    orthosis: str
    positions: Mapping[str, str]
    angles: Mapping[str, str]
    parts: Mapping[Joint | None, tuple[str, str, str]]
    decimal_mark: str = "."

    def part(self, limit: Limit) -> str:
        """Return the part of the arm that a limit is about, with its side."""
        joint = MOTIONS[limit.motion].joint if limit.motion else limit.joint
        return self.parts[joint][(Side.LEFT, Side.RIGHT, Side.BOTH).index(limit.side)]


def told(words: PrecautionWords, limits: Iterable[Limit]) -> tuple[str, ...]:
    """Return each hard limit as a sentence, once; of several efforts of one part the lowest."""
    hard = [limit for limit in limits if limit.is_hard]
    lowest: dict[str, Limit] = {}
    for limit in hard:
        if limit.kind is Kind.EFFORT:
            kept = lowest.get(words.part(limit))
            if kept is None or LEVELS.index(limit.effort) < LEVELS.index(kept.effort):
                lowest[words.part(limit)] = limit
    said = [
        _said(words, limit)
        for limit in hard
        if limit.kind is not Kind.EFFORT or limit in lowest.values()
    ]
    return tuple(dict.fromkeys(filter(None, said)))


def _said(words: PrecautionWords, limit: Limit) -> str:
    part = words.part(limit)
    match limit.kind:
        case Kind.EFFORT:
            return words.efforts[limit.effort].format(part=part)
        case Kind.LOAD if not limit.limit_g:
            return words.no_load.format(part=words.part(_of_the_arm(limit)))
        case Kind.LOAD:
            load_kg = f"{(limit.limit_g or 0) / 1000:g}".replace(".", words.decimal_mark)
            return words.load_up_to.format(part=words.part(_of_the_arm(limit)), n=load_kg)
        case Kind.BEARING:
            return words.bearing.format(part=words.part(_of_the_arm(limit)))
        case Kind.TRACTION:
            return words.traction.format(part=words.part(_of_the_arm(limit)))
        case Kind.ORTHOSIS:
            return words.orthosis
        case Kind.POSITION:
            return words.positions.get(limit.position, "")
        case Kind.ANGLE if not limit.only_when_moved and (limit.limit_deg or 0) > 0:
            return words.angles.get(limit.motion, "").format(part=part, n=limit.limit_deg)
    return ""


def _of_the_arm(limit: Limit) -> Limit:
    """The same limit told of the arm: nobody lifts with a shoulder alone."""
    return Limit(key=limit.key, kind=limit.kind, side=limit.side)


PRECAUTIONS = {
    "en": PrecautionWords(
        heading="What your arm must not do yet",
        until="This holds all day, until we tell you.",
        efforts={
            "passive": "Do not move your {part} by its own strength. A helper moves it for you.",
            "self_assisted": (
                "Do not move your {part} by its own strength. Your other hand does the work."
            ),
            "active": "Do not push, pull or squeeze hard with your {part}.",
        },
        no_load="Do not lift, carry or pull anything with your {part}.",
        load_up_to="Lift or carry no more than {n} kg with your {part}.",
        bearing="Do not lean or push on your {part}, and do not push up from a chair with it.",
        traction="Do not let your {part} hang with no rest. Nobody may pull on it.",
        orthosis=(
            "Keep your splint or sling on. "
            "Take it off only when this sheet or your therapist says so."
        ),
        positions={
            "lying_back": "Do not lie on your back.",
            "lying_side": "Do not lie on your side.",
            "standing": "Do not stand for your exercises.",
            "sitting": "Do not sit for your exercises.",
            "sitting_at_table": "Do not sit at a table for your exercises.",
            "leaning_forward": "Do not bend forward.",
        },
        angles={
            "shoulder_flexion": "Do not lift your {part} to the front past {n}°.",
            "shoulder_abduction": "Do not lift your {part} to the side past {n}°.",
            "shoulder_extension": "Do not take your {part} behind your back past {n}°.",
            "shoulder_external_rotation": "Do not turn your {part} out past {n}°.",
            "shoulder_internal_rotation": "Do not turn your {part} in past {n}°.",
            "elbow_flexion": "Do not bend your {part} past {n}°.",
            "wrist_flexion": "Do not bend your {part} to the palm past {n}°.",
            "wrist_extension": "Do not bend your {part} back past {n}°.",
            "forearm_supination": "Do not turn your palm up past {n}°.",
            "forearm_pronation": "Do not turn your palm down past {n}°.",
        },
        parts={
            None: ("left arm", "right arm", "arms"),
            Joint.SHOULDER_BLADE: (
                "left shoulder blade",
                "right shoulder blade",
                "shoulder blades",
            ),
            Joint.SHOULDER: ("left shoulder", "right shoulder", "shoulders"),
            Joint.ELBOW: ("left elbow", "right elbow", "elbows"),
            Joint.FOREARM: ("left forearm", "right forearm", "forearms"),
            Joint.WRIST: ("left wrist", "right wrist", "wrists"),
            Joint.FINGERS: ("left fingers", "right fingers", "fingers"),
            Joint.THUMB: ("left thumb", "right thumb", "thumbs"),
        },
    ),
    "es": PrecautionWords(
        heading="Lo que su brazo aún no debe hacer",
        until="Vale todo el día, hasta que se lo digamos.",
        efforts={
            "passive": "No mueva {part} con su propia fuerza. Su ayudante hace el movimiento.",
            "self_assisted": (
                "No mueva {part} con su propia fuerza. La otra mano hace el trabajo."
            ),
            "active": "No empuje, tire ni apriete fuerte con {part}.",
        },
        no_load="No levante, cargue ni tire de nada con {part}.",
        load_up_to="No levante ni cargue más de {n} kg con {part}.",
        bearing="No se apoye ni empuje con {part}, tampoco para levantarse de la silla.",
        traction="No deje {part} colgando sin apoyo. Nadie debe tirar de él.",
        orthosis=(
            "No se quite la férula ni el cabestrillo, salvo cuando la hoja o su terapeuta lo digan."
        ),
        positions={
            "lying_back": "No se acueste boca arriba.",
            "lying_side": "No se acueste de lado.",
            "standing": "No haga los ejercicios de pie.",
            "sitting": "No haga los ejercicios en una silla.",
            "sitting_at_table": "No haga los ejercicios a la mesa.",
            "leaning_forward": "No se incline hacia delante.",
        },
        angles={
            "shoulder_flexion": "No levante {part} hacia delante más de {n}°.",
            "shoulder_abduction": "No levante {part} hacia el lado más de {n}°.",
            "shoulder_extension": "No lleve {part} hacia atrás más de {n}°.",
            "shoulder_external_rotation": "No gire {part} hacia fuera más de {n}°.",
            "shoulder_internal_rotation": "No gire {part} hacia dentro más de {n}°.",
            "elbow_flexion": "No doble {part} más de {n}°.",
            "wrist_flexion": "No doble {part} hacia la palma más de {n}°.",
            "wrist_extension": "No doble {part} hacia atrás más de {n}°.",
            "forearm_supination": "No gire la palma hacia arriba más de {n}°.",
            "forearm_pronation": "No gire la palma hacia abajo más de {n}°.",
        },
        parts={
            None: ("el brazo izquierdo", "el brazo derecho", "los brazos"),
            Joint.SHOULDER_BLADE: ("el omóplato izquierdo", "el omóplato derecho", "los omóplatos"),
            Joint.SHOULDER: ("el hombro izquierdo", "el hombro derecho", "los hombros"),
            Joint.ELBOW: ("el codo izquierdo", "el codo derecho", "los codos"),
            Joint.FOREARM: ("el antebrazo izquierdo", "el antebrazo derecho", "los antebrazos"),
            Joint.WRIST: ("la muñeca izquierda", "la muñeca derecha", "las muñecas"),
            Joint.FINGERS: (
                "los dedos de la mano izquierda",
                "los dedos de la mano derecha",
                "los dedos",
            ),
            Joint.THUMB: ("el pulgar izquierdo", "el pulgar derecho", "los pulgares"),
        },
        decimal_mark=",",
    ),
    "ar": PrecautionWords(
        heading="ما يجب ألا تفعله ذراعك بعد",
        until="يسري هذا طوال اليوم حتى نخبرك بغير ذلك.",
        efforts={
            "passive": "لا تحرك {part} بقوتك. من يساعدك يقوم بالحركة.",
            "self_assisted": "لا تحرك {part} دون مساعدة. يدك الأخرى تقوم بالعمل.",
            "active": "لا تدفع ولا تسحب ولا تضغط بقوة باستخدام {part}.",
        },
        no_load="لا ترفع ولا تحمل ولا تسحب أي شيء باستخدام {part}.",
        load_up_to="لا ترفع ولا تحمل أكثر من {n} كغ باستخدام {part}.",
        bearing="لا تستند ولا تدفع باستخدام {part}، ولا حتى للنهوض من الكرسي.",
        traction="لا تترك {part} دون سند. لا يشدّ أحد ذراعك.",
        orthosis="أبقِ الجبيرة أو حمالة الذراع، إلا إذا طلبت الورقة أو معالجك نزعها.",
        positions={
            "lying_back": "لا تستلقِ على ظهرك.",
            "lying_side": "لا تستلقِ على جنبك.",
            "standing": "لا تؤدِّ التمارين واقفًا.",
            "sitting": "لا تؤدِّ التمارين جالسًا.",
            "sitting_at_table": "لا تؤدِّ التمارين جالسًا إلى طاولة.",
            "leaning_forward": "لا تنحنِ إلى الأمام.",
        },
        angles={
            "shoulder_flexion": "لا ترفع {part} إلى الأمام أكثر من {n}°.",
            "shoulder_abduction": "لا ترفع {part} إلى الجانب أكثر من {n}°.",
            "shoulder_extension": "لا تأخذ {part} إلى الخلف أكثر من {n}°.",
            "shoulder_external_rotation": "لا تلف {part} إلى الخارج أكثر من {n}°.",
            "shoulder_internal_rotation": "لا تلف {part} إلى الداخل أكثر من {n}°.",
            "elbow_flexion": "لا تثنِ {part} أكثر من {n}°.",
            "wrist_flexion": "لا تثنِ {part} نحو الراحة أكثر من {n}°.",
            "wrist_extension": "لا تثنِ {part} إلى الخلف أكثر من {n}°.",
            "forearm_supination": "لا تلف راحة يدك إلى أعلى أكثر من {n}°.",
            "forearm_pronation": "لا تلف راحة يدك إلى أسفل أكثر من {n}°.",
        },
        parts={
            None: ("ذراعك اليسرى", "ذراعك اليمنى", "ذراعيك"),
            Joint.SHOULDER_BLADE: ("لوح كتفك اليسرى", "لوح كتفك اليمنى", "لوحي كتفيك"),
            Joint.SHOULDER: ("كتفك اليسرى", "كتفك اليمنى", "كتفيك"),
            Joint.ELBOW: ("مرفقك الأيسر", "مرفقك الأيمن", "مرفقيك"),
            Joint.FOREARM: ("ساعدك الأيسر", "ساعدك الأيمن", "ساعديك"),
            Joint.WRIST: ("معصمك الأيسر", "معصمك الأيمن", "معصميك"),
            Joint.FINGERS: ("أصابع يدك اليسرى", "أصابع يدك اليمنى", "أصابعك"),
            Joint.THUMB: ("إبهامك الأيسر", "إبهامك الأيمن", "إبهاميك"),
        },
    ),
}
"""By language."""


def precaution_words(language: str) -> PrecautionWords:
    """Return the words in a language that we offer, else in English."""
    return PRECAUTIONS.get(base_code(language), PRECAUTIONS["en"])
