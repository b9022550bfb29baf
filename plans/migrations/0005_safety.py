"""Orthosis and stop of a line, overrides of precautions, withdrawals.

SQLite remakes a table whose columns change, and its triggers go with the old one: so they are
dropped first and put back after.
"""

import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.db.migrations.operations import RunPython

from clinic.immutable import refuse
from plans.migrations._refusals import OF_LINES, OF_VERSIONS

_STANDING = [*OF_VERSIONS, *OF_LINES]
_SAID = ("version_id", "line_key", "title", "reason", "made_by_id", "made_at")


class Migration(migrations.Migration):

    dependencies = [
        ('patients', '0004_precaution_reviews'),
        ('plans', '0004_due_spans'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        *(RunPython(each.reverse_code, each.code) for each in _STANDING),
        migrations.CreateModel(
            name='PrecautionOverride',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('line_key', models.CharField(max_length=80)),
                ('reason', models.CharField(max_length=300)),
                ('evidence', models.JSONField(default=list)),
                ('role', models.CharField(choices=[('therapist', 'Therapist'), ('student', 'Student or assistant'), ('supervisor', 'Supervisor'), ('administrator', 'Administrator')], max_length=20)),
                ('made_at', models.DateTimeField()),
            ],
            options={
                'ordering': ['made_at', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='Withdrawal',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('line_key', models.CharField(blank=True, max_length=80)),
                ('title', models.CharField(max_length=200)),
                ('reason', models.CharField(max_length=300)),
                ('made_at', models.DateTimeField()),
                ('told_at', models.DateTimeField(null=True)),
                ('told_how', models.CharField(blank=True, max_length=200)),
            ],
            options={
                'ordering': ['-made_at', '-pk'],
            },
        ),
        migrations.RemoveConstraint(
            model_name='planversion',
            name='one_open_version_a_patient',
        ),
        migrations.AddField(
            model_name='line',
            name='orthosis',
            field=models.CharField(blank=True, choices=[('', 'none'), ('on', 'stays on'), ('off', 'comes off for this')], max_length=3),
        ),
        migrations.AddField(
            model_name='line',
            name='stop_deg',
            field=models.SmallIntegerField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(-200), django.core.validators.MaxValueValidator(200)]),
        ),
        migrations.AddField(
            model_name='line',
            name='stop_motion',
            field=models.CharField(blank=True, choices=[('shoulder_blade_protraction', 'shoulder blade protraction'), ('shoulder_blade_retraction', 'shoulder blade retraction'), ('shoulder_blade_elevation', 'shoulder blade elevation'), ('shoulder_blade_depression', 'shoulder blade depression'), ('shoulder_flexion', 'shoulder flexion'), ('shoulder_extension', 'shoulder extension'), ('shoulder_abduction', 'shoulder abduction'), ('shoulder_adduction', 'shoulder adduction'), ('shoulder_horizontal_adduction', 'shoulder horizontal adduction'), ('shoulder_horizontal_abduction', 'shoulder horizontal abduction'), ('shoulder_external_rotation', 'shoulder external rotation'), ('shoulder_internal_rotation', 'shoulder internal rotation'), ('elbow_flexion', 'elbow flexion'), ('elbow_extension', 'elbow extension'), ('forearm_supination', 'forearm supination'), ('forearm_pronation', 'forearm pronation'), ('wrist_flexion', 'wrist flexion'), ('wrist_extension', 'wrist extension'), ('wrist_radial_deviation', 'wrist radial deviation'), ('wrist_ulnar_deviation', 'wrist ulnar deviation'), ('finger_flexion', 'finger flexion'), ('finger_extension', 'finger extension'), ('finger_abduction', 'finger abduction'), ('finger_adduction', 'finger adduction'), ('thumb_flexion', 'thumb flexion'), ('thumb_extension', 'thumb extension'), ('thumb_abduction', 'thumb abduction'), ('thumb_adduction', 'thumb adduction'), ('thumb_opposition', 'thumb opposition')], max_length=40),
        ),
        migrations.AddField(
            model_name='planversion',
            name='withdraws',
            field=models.BooleanField(default=False),
        ),
        migrations.AddConstraint(
            model_name='line',
            constraint=models.CheckConstraint(condition=models.Q(('orthosis__in', ['', 'on', 'off'])), name='line_orthosis_is_known'),
        ),
        migrations.AddConstraint(
            model_name='line',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('stop_deg__isnull', True), ('stop_motion', '')), models.Q(('stop_motion__in', ['shoulder_blade_protraction', 'shoulder_blade_retraction', 'shoulder_blade_elevation', 'shoulder_blade_depression', 'shoulder_flexion', 'shoulder_extension', 'shoulder_abduction', 'shoulder_adduction', 'shoulder_horizontal_adduction', 'shoulder_horizontal_abduction', 'shoulder_external_rotation', 'shoulder_internal_rotation', 'elbow_flexion', 'elbow_extension', 'forearm_supination', 'forearm_pronation', 'wrist_flexion', 'wrist_extension', 'wrist_radial_deviation', 'wrist_ulnar_deviation', 'finger_flexion', 'finger_extension', 'finger_abduction', 'finger_adduction', 'thumb_flexion', 'thumb_extension', 'thumb_abduction', 'thumb_adduction', 'thumb_opposition']), ('stop_deg__range', (-200, 200))), _connector='OR'), name='line_stops_at_an_angle_of_a_motion'),
        ),
        migrations.AddConstraint(
            model_name='planversion',
            constraint=models.UniqueConstraint(condition=models.Q(('state__in', ['draft', 'waiting']), ('withdraws', False)), fields=('patient',), name='one_open_version_a_patient'),
        ),
        migrations.AddField(
            model_name='precautionoverride',
            name='made_by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='precautionoverride',
            name='precaution',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='overrides', to='patients.precaution'),
        ),
        migrations.AddField(
            model_name='precautionoverride',
            name='version',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='overrides', to='plans.planversion'),
        ),
        migrations.AddField(
            model_name='withdrawal',
            name='made_by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='withdrawal',
            name='told_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='withdrawal',
            name='version',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='withdrawal', to='plans.planversion'),
        ),
        migrations.AddConstraint(
            model_name='precautionoverride',
            constraint=models.UniqueConstraint(fields=('version', 'line_key', 'precaution', 'made_at'), name='overridden_once_an_issue'),
        ),
        migrations.AddConstraint(
            model_name='precautionoverride',
            constraint=models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='override_has_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='precautionoverride',
            constraint=models.CheckConstraint(condition=models.Q(('role__in', ['therapist', 'supervisor'])), name='override_by_the_right_role'),
        ),
        migrations.AddConstraint(
            model_name='withdrawal',
            constraint=models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='withdrawal_has_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='withdrawal',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('told_at__isnull', True), ('told_by__isnull', True), ('told_how', '')), models.Q(('told_at__isnull', False), ('told_by__isnull', False), models.Q(('told_how', ''), _negated=True)), _connector='OR'), name='told_by_whom_and_how'),
        ),
        *_STANDING,
        refuse(
            name="override_stands",
            event="UPDATE",
            table="plans_precautionoverride",
            condition="1 = 1",
            message="an override never changes",
        ),
        refuse(
            name="withdrawal_stands",
            event="UPDATE",
            table="plans_withdrawal",
            condition="OLD.told_at IS NOT NULL OR "
            + " OR ".join(f"NEW.{name} IS DISTINCT FROM OLD.{name}" for name in _SAID),
            message="a withdrawal never changes",
        ),
    ]
