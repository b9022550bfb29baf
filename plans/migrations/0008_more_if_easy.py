"""Whether the patient may do two more than the range in a set that is easy."""

from django.db import migrations, models

from clinic.immutable import set_aside
from plans.migrations._refusals import OF_LINES


class Migration(migrations.Migration):
    dependencies = [("plans", "0007_starting_sets")]

    operations = set_aside(
        OF_LINES,
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
    )
