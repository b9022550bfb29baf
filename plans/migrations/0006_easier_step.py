"""Whether the patient may do the step below a line's."""

from django.db import migrations, models

from clinic.immutable import set_aside
from plans.migrations._refusals import OF_LINES


class Migration(migrations.Migration):
    dependencies = [("plans", "0005_safety")]

    operations = set_aside(
        OF_LINES,
        migrations.AddField(
            model_name="line",
            name="easier_allowed",
            field=models.BooleanField(default=False),
        ),
        migrations.AddConstraint(
            model_name="line",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("easier_allowed", False),
                    models.Q(("step__in", ["", "passive"]), _negated=True),
                    _connector="OR",
                ),
                name="easier_step_is_below_the_prescribed",
            ),
        ),
    )
