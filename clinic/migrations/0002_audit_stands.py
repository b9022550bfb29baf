"""The audit is written once."""

from django.db import migrations

from clinic.immutable import refuse


class Migration(migrations.Migration):
    dependencies = [("clinic", "0001_initial")]

    operations = [
        refuse(
            name="audit_stands",
            event="UPDATE",
            table="clinic_auditrow",
            condition="1 = 1",
            message="an audit row never changes",
        ),
    ]
