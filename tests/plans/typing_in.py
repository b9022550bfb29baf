"""What a browser sends of the screen on which an exercise is written."""

from plans.typed import TypedExercise


def fields_of(text: TypedExercise) -> dict[str, str]:
    fields = dict(text.said)
    for step in text.steps:
        start = f"steps.{step.number}."
        fields |= {start + name: value for name, value in step.said.items()}
        fields |= {f"{start}first.{name}": value for name, value in step.settings.items()}
        for row in step.grid:
            fields |= {cell.path: cell.text for cell in (row.at, *row.cells)}
            fields |= {row.hold.path: "true"} if row.hold.text else {}
    return fields
