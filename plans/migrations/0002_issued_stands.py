"""Issued versions, their lines, and exercise revisions stand as written."""

from django.db import migrations

from clinic.immutable import refuse
from plans.migrations._refusals import OF_LINES, OF_VERSIONS


class Migration(migrations.Migration):
    dependencies = [("plans", "0001_initial")]

    operations = [
        *OF_VERSIONS,
        *OF_LINES,
        refuse(
            name="exercise_revision_stands",
            event="UPDATE",
            table="plans_exerciserevision",
            condition="1 = 1",
            message="an exercise revision never changes",
        ),
    ]
