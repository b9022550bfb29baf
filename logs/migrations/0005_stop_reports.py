import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from clinic.immutable import refuse

_STANDS = ("uuid", "patient_id", "tier", "sign", "reported_at", "time_zone", "day", "source", "note", "content_hash", "received_at")
_MAY_BE_NONE = ("from_occasion", "phone_id", "recorded_by_id")
_REPORT_CHANGES = " OR ".join(
    [f"OLD.{name} <> NEW.{name}" for name in _STANDS]
    + [f"COALESCE(OLD.{name}, 0) <> COALESCE(NEW.{name}, 0)" for name in _MAY_BE_NONE]
)



class Migration(migrations.Migration):

    dependencies = [
        ('logs', '0004_patient_of_revision'),
        ('patients', '0005_phone_contact'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='StopReport',
            fields=[
                ('uuid', models.UUIDField(primary_key=True, serialize=False)),
                ('tier', models.CharField(choices=[('emergency', 'emergency'), ('today', 'today'), ('next_visit', 'next_visit')], max_length=12)),
                ('sign', models.CharField(max_length=40)),
                ('reported_at', models.DateTimeField()),
                ('time_zone', models.CharField(blank=True, max_length=60)),
                ('day', models.DateField()),
                ('from_occasion', models.PositiveSmallIntegerField(null=True)),
                ('source', models.CharField(choices=[('phone', 'by the phone page'), ('telephone', 'by telephone'), ('visit', 'at a visit')], max_length=10)),
                ('note', models.CharField(blank=True, max_length=500)),
                ('content_hash', models.CharField(max_length=64)),
                ('received_at', models.DateTimeField()),
                ('answered_at', models.DateTimeField(null=True)),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='stop_reports', to='patients.patient')),
                ('phone', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='patients.phone')),
                ('recorded_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-reported_at', '-received_at', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='StopAnswer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.PositiveSmallIntegerField()),
                ('is_current', models.BooleanField(default=True)),
                ('words', models.CharField(max_length=500)),
                ('sentence', models.CharField(blank=True, max_length=200)),
                ('goes_on', models.BooleanField()),
                ('ends_day', models.DateField(null=True)),
                ('ends_occasion', models.PositiveSmallIntegerField(null=True)),
                ('answered_at', models.DateTimeField()),
                ('answered_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('report', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='answers', to='logs.stopreport')),
            ],
            options={
                'ordering': ['report', 'number'],
            },
        ),
        migrations.AddIndex(
            model_name='stopreport',
            index=models.Index(condition=models.Q(('answered_at__isnull', True)), fields=['patient'], name='stop_sign_unanswered'),
        ),
        migrations.AddConstraint(
            model_name='stopreport',
            constraint=models.CheckConstraint(condition=models.Q(('tier__in', ('emergency', 'today', 'next_visit'))), name='stop_tier_is_known'),
        ),
        migrations.AddConstraint(
            model_name='stopreport',
            constraint=models.CheckConstraint(condition=models.Q(('sign', ''), _negated=True), name='stop_names_its_sign'),
        ),
        migrations.AddConstraint(
            model_name='stopreport',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('from_occasion__isnull', False), ('from_occasion__range', (1, 13)), ('tier__in', ('emergency', 'today'))), models.Q(models.Q(('tier__in', ('emergency', 'today')), _negated=True), ('from_occasion__isnull', True)), _connector='OR'), name='stop_holds_as_its_tier_does'),
        ),
        migrations.AddConstraint(
            model_name='stopreport',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('phone__isnull', False), ('recorded_by__isnull', True), ('source', 'phone')), models.Q(('phone__isnull', True), ('recorded_by__isnull', False), ('source__in', ['telephone', 'visit'])), _connector='OR'), name='stop_came_by_phone_or_staff'),
        ),
        migrations.AddConstraint(
            model_name='stopreport',
            constraint=models.CheckConstraint(condition=models.Q(('answered_at__isnull', True), ('answered_at__gte', models.F('received_at')), _connector='OR'), name='stop_answered_once_received'),
        ),
        migrations.AddConstraint(
            model_name='stopanswer',
            constraint=models.UniqueConstraint(fields=('report', 'number'), name='stop_answer_numbered_once'),
        ),
        migrations.AddConstraint(
            model_name='stopanswer',
            constraint=models.UniqueConstraint(condition=models.Q(('is_current', True)), fields=('report',), name='stop_has_one_current_answer'),
        ),
        migrations.AddConstraint(
            model_name='stopanswer',
            constraint=models.CheckConstraint(condition=models.Q(('words', ''), _negated=True), name='stop_answer_in_words'),
        ),
        migrations.AddConstraint(
            model_name='stopanswer',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('ends_day__isnull', True), ('ends_occasion__isnull', True)), models.Q(('ends_day__isnull', False), ('ends_occasion__isnull', False), ('ends_occasion__range', (1, 12)), ('goes_on', True)), _connector='OR'), name='stop_answer_ends_where_it_goes_on'),
        ),
        refuse(
            name="stop_report_stands",
            event="UPDATE",
            table="logs_stopreport",
            condition=f"OLD.answered_at IS NOT NULL OR NEW.answered_at IS NULL OR {_REPORT_CHANGES}",
            message="a reported stop sign never changes",
        ),
        refuse(
            name="stop_answer_stands",
            event="UPDATE",
            table="logs_stopanswer",
            condition=(
                "NEW.is_current OR NOT OLD.is_current OR OLD.report_id <> NEW.report_id OR OLD.number <> NEW.number"
                " OR OLD.words <> NEW.words OR OLD.sentence <> NEW.sentence OR OLD.goes_on <> NEW.goes_on"
                " OR COALESCE(CAST(OLD.ends_day AS varchar(20)), '') <> COALESCE(CAST(NEW.ends_day AS varchar(20)), '')"
                " OR COALESCE(OLD.ends_occasion, 0) <> COALESCE(NEW.ends_occasion, 0)"
                " OR OLD.answered_by_id <> NEW.answered_by_id OR OLD.answered_at <> NEW.answered_at"
            ),
            message="an answer to a stop sign never changes",
        ),
    ]
