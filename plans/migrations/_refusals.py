"""What the database refuses to change of issued versions and their lines, for the migrations that
make these refusals or set them aside while they change the tables."""

from clinic.immutable import refuse

_OF_A_VERSION_PAST_DRAFT = (
    "EXISTS (SELECT 1 FROM plans_planversion v WHERE v.id = {row}.version_id AND v.state <> 'draft')"
)

OF_VERSIONS = [
    refuse(
        name="issued_version_stands",
        event="UPDATE",
        table="plans_planversion",
        condition="OLD.state = 'issued'",
        message="an issued version never changes",
    )
]
OF_LINES = [
    refuse(
        name="line_added_to_draft_only",
        event="INSERT",
        table="plans_line",
        condition=_OF_A_VERSION_PAST_DRAFT.format(row="NEW"),
        message="lines are added to drafts only",
    ),
    refuse(
        name="issued_line_stands",
        event="UPDATE",
        table="plans_line",
        condition=_OF_A_VERSION_PAST_DRAFT.format(row="OLD"),
        message="a line of an issued version never changes",
    ),
]
