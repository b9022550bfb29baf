"""Whether the patient may do two more than the range in a set that is easy.

SQLite remakes a table whose columns change, and its triggers go with the old one: so they are
dropped first and put back after.
"""

from django.db import migrations, models
from django.db.migrations.operations import RunPython

from clinic.immutable import refuse

_OF_A_VERSION_PAST_DRAFT = (
    "EXISTS (SELECT 1 FROM plans_planversion v WHERE v.id = {row}.version_id AND v.state <> 'draft')"
)
_STANDING = [
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


class Migration(migrations.Migration):
    dependencies = [("plans", "0007_starting_sets")]

    operations = [
        *(RunPython(each.reverse_code, each.code) for each in _STANDING),
        migrations.AddField(
            model_name="line",
            name="more_if_easy",
            field=models.BooleanField(default=False),
        ),
        migrations.AddConstraint(
            model_name="line",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("more_if_easy", False), ("unit", "repetitions"), _connector="OR"
                ),
                name="more_if_easy_is_repetitions",
            ),
        ),
        *_STANDING,
    ]
