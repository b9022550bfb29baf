import django.core.validators
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from clinic.immutable import refuse

_WRITTEN = (
    "patient_id",
    "episode_id",
    "kind",
    "side",
    "motion",
    "joint",
    "limit_deg",
    "effort",
    "limit_g",
    "position",
    "together",
    "measured_in",
    "isometric_is_active",
    "only_when_moved",
    "is_hard",
    "from_day",
    "from_week",
    "until_day",
    "until_week",
    "set_by",
    "source",
    "note",
    "recorded_by_id",
    "recorded_at",
)
_CHANGED = " OR ".join(f"NEW.{name} IS DISTINCT FROM OLD.{name}" for name in _WRITTEN)


class Migration(migrations.Migration):

    dependencies = [
        ('patients', '0002_assessments'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Precaution',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('angle', 'an angle, up to'), ('effort', 'the highest effort'), ('load', 'a load, up to'), ('bearing', 'no weight-bearing, leaning or pushing'), ('position', 'a position is forbidden'), ('traction', 'no hanging or pulling on the arm'), ('together', 'motions forbidden together'), ('orthosis', 'the orthosis stays on')], max_length=12)),
                ('side', models.CharField(choices=[('left', 'Left'), ('right', 'Right'), ('both', 'Both')], max_length=5)),
                ('motion', models.CharField(blank=True, choices=[('shoulder_blade_protraction', 'shoulder blade protraction'), ('shoulder_blade_retraction', 'shoulder blade retraction'), ('shoulder_blade_elevation', 'shoulder blade elevation'), ('shoulder_blade_depression', 'shoulder blade depression'), ('shoulder_flexion', 'shoulder flexion'), ('shoulder_extension', 'shoulder extension'), ('shoulder_abduction', 'shoulder abduction'), ('shoulder_adduction', 'shoulder adduction'), ('shoulder_horizontal_adduction', 'shoulder horizontal adduction'), ('shoulder_horizontal_abduction', 'shoulder horizontal abduction'), ('shoulder_external_rotation', 'shoulder external rotation'), ('shoulder_internal_rotation', 'shoulder internal rotation'), ('elbow_flexion', 'elbow flexion'), ('elbow_extension', 'elbow extension'), ('forearm_supination', 'forearm supination'), ('forearm_pronation', 'forearm pronation'), ('wrist_flexion', 'wrist flexion'), ('wrist_extension', 'wrist extension'), ('wrist_radial_deviation', 'wrist radial deviation'), ('wrist_ulnar_deviation', 'wrist ulnar deviation'), ('finger_flexion', 'finger flexion'), ('finger_extension', 'finger extension'), ('finger_abduction', 'finger abduction'), ('finger_adduction', 'finger adduction'), ('thumb_flexion', 'thumb flexion'), ('thumb_extension', 'thumb extension'), ('thumb_abduction', 'thumb abduction'), ('thumb_adduction', 'thumb adduction'), ('thumb_opposition', 'thumb opposition')], max_length=40)),
                ('joint', models.CharField(blank=True, choices=[('shoulder_blade', 'shoulder blade'), ('shoulder', 'shoulder'), ('elbow', 'elbow'), ('forearm', 'forearm'), ('wrist', 'wrist'), ('fingers', 'fingers'), ('thumb', 'thumb')], max_length=20)),
                ('limit_deg', models.SmallIntegerField(blank=True, null=True, validators=[django.core.validators.MinValueValidator(-200), django.core.validators.MaxValueValidator(200)])),
                ('effort', models.CharField(blank=True, choices=[('passive', 'passive'), ('self_assisted', 'self-assisted'), ('active', 'active')], max_length=16)),
                ('limit_g', models.PositiveIntegerField(blank=True, null=True, validators=[django.core.validators.MaxValueValidator(50000)])),
                ('position', models.CharField(blank=True, choices=[('lying_back', 'lying on the back'), ('lying_side', 'lying on the side'), ('sitting', 'sitting'), ('sitting_at_table', 'sitting at a table'), ('standing', 'standing'), ('leaning_forward', 'leaning forward')], max_length=20)),
                ('together', models.JSONField(blank=True, default=list)),
                ('measured_in', models.CharField(blank=True, max_length=120)),
                ('isometric_is_active', models.BooleanField(default=False)),
                ('only_when_moved', models.BooleanField(default=False)),
                ('is_hard', models.BooleanField(default=True)),
                ('from_day', models.DateField(blank=True, null=True)),
                ('from_week', models.PositiveSmallIntegerField(blank=True, null=True, validators=[django.core.validators.MaxValueValidator(104)])),
                ('until_day', models.DateField(blank=True, null=True)),
                ('until_week', models.PositiveSmallIntegerField(blank=True, null=True, validators=[django.core.validators.MaxValueValidator(104)])),
                ('set_by', models.CharField(max_length=120)),
                ('source', models.CharField(max_length=300)),
                ('note', models.CharField(blank=True, max_length=300)),
                ('recorded_at', models.DateTimeField()),
                ('lifted_at', models.DateTimeField(null=True)),
                ('lifted_why', models.CharField(blank=True, max_length=300)),
                ('episode', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='patients.episode')),
                ('lifted_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('patient', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='precautions', to='patients.patient')),
                ('recorded_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('kind__in', ['angle', 'effort', 'load', 'bearing', 'position', 'traction', 'together', 'orthosis'])), name='precaution_kind_is_known'), models.CheckConstraint(condition=models.Q(('side__in', ['left', 'right', 'both'])), name='precaution_side_is_known'), models.CheckConstraint(condition=models.Q(('motion__in', ['', 'shoulder_blade_protraction', 'shoulder_blade_retraction', 'shoulder_blade_elevation', 'shoulder_blade_depression', 'shoulder_flexion', 'shoulder_extension', 'shoulder_abduction', 'shoulder_adduction', 'shoulder_horizontal_adduction', 'shoulder_horizontal_abduction', 'shoulder_external_rotation', 'shoulder_internal_rotation', 'elbow_flexion', 'elbow_extension', 'forearm_supination', 'forearm_pronation', 'wrist_flexion', 'wrist_extension', 'wrist_radial_deviation', 'wrist_ulnar_deviation', 'finger_flexion', 'finger_extension', 'finger_abduction', 'finger_adduction', 'thumb_flexion', 'thumb_extension', 'thumb_abduction', 'thumb_adduction', 'thumb_opposition']), ('joint__in', ['', 'shoulder_blade', 'shoulder', 'elbow', 'forearm', 'wrist', 'fingers', 'thumb'])), name='precaution_motion_is_known'), models.CheckConstraint(condition=models.Q(('motion', ''), ('joint', ''), _connector='OR'), name='precaution_is_of_motion_or_joint'), models.CheckConstraint(condition=models.Q(models.Q(models.Q(('kind', 'angle'), models.Q(('limit_deg__isnull', True), _negated=True)), models.Q(models.Q(('kind', 'angle'), _negated=True), ('limit_deg__isnull', True)), _connector='OR'), models.Q(models.Q(('kind', 'angle'), _negated=True), models.Q(models.Q(('motion', ''), _negated=True), ('limit_deg__range', (-200, 200))), _connector='OR')), name='angle_has_motion_and_degrees'), models.CheckConstraint(condition=models.Q(models.Q(models.Q(('kind', 'effort'), models.Q(('effort', ''), _negated=True)), models.Q(models.Q(('kind', 'effort'), _negated=True), ('effort', '')), _connector='OR'), ('effort__in', ['', 'passive', 'self_assisted', 'active'])), name='effort_limit_is_known'), models.CheckConstraint(condition=models.Q(models.Q(('kind', 'load'), models.Q(('limit_g__isnull', True), _negated=True)), models.Q(models.Q(('kind', 'load'), _negated=True), ('limit_g__isnull', True)), _connector='OR'), name='load_limit_has_grams'), models.CheckConstraint(condition=models.Q(models.Q(models.Q(('kind', 'position'), models.Q(('position', ''), _negated=True)), models.Q(models.Q(('kind', 'position'), _negated=True), ('position', '')), _connector='OR'), ('position__in', ['', 'lying_back', 'lying_side', 'sitting', 'sitting_at_table', 'standing', 'leaning_forward'])), name='forbidden_position_is_known'), models.CheckConstraint(condition=models.Q(models.Q(('from_day__isnull', False), ('from_week__isnull', True)), models.Q(('from_day__isnull', True), ('from_week__isnull', False)), _connector='OR'), name='precaution_begins_by_day_or_week'), models.CheckConstraint(condition=models.Q(('until_day__isnull', True), ('until_week__isnull', True), _connector='OR'), name='precaution_review_by_day_or_week'), models.CheckConstraint(condition=models.Q(('until_day__isnull', True), ('from_day__isnull', True), ('until_day__gte', models.F('from_day')), _connector='OR'), name='precaution_days_run_forwards'), models.CheckConstraint(condition=models.Q(('until_week__isnull', True), ('from_week__isnull', True), ('until_week__gte', models.F('from_week')), _connector='OR'), name='precaution_weeks_run_forwards'), models.CheckConstraint(condition=models.Q(models.Q(('from_week__isnull', True), ('until_week__isnull', True)), ('episode__isnull', False), _connector='OR'), name='weeks_count_from_an_episode'), models.CheckConstraint(condition=models.Q(models.Q(('set_by', ''), _negated=True), models.Q(('source', ''), _negated=True)), name='precaution_says_who_and_whence'), models.CheckConstraint(condition=models.Q(models.Q(('lifted_at__isnull', True), ('lifted_by__isnull', True), ('lifted_why', '')), models.Q(('lifted_at__isnull', False), ('lifted_by__isnull', False), models.Q(('lifted_why', ''), _negated=True)), _connector='OR'), name='lifted_by_whom_and_why')],
            },
        ),
        refuse(
            name="precaution_stands",
            event="UPDATE",
            table="patients_precaution",
            condition=f"OLD.lifted_at IS NOT NULL OR {_CHANGED}",
            message="a precaution never changes: lift it and set another",
        ),
    ]
