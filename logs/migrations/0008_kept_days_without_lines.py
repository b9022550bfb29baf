import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """What was recorded of lines stands in each revision's ``done``; the constraint's index serves."""

    dependencies = [
        ("logs", "0007_done_text"),
        ("patients", "0007_short_codes_and_phone_state"),
    ]

    operations = [
        migrations.RemoveField(model_name="keptday", name="recorded"),
        migrations.AlterField(
            model_name="keptday",
            name="patient",
            field=models.ForeignKey(
                db_index=False,
                on_delete=django.db.models.deletion.CASCADE,
                related_name="kept_days",
                to="patients.patient",
            ),
        ),
    ]
