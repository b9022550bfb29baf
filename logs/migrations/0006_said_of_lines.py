"""What patients say of single lines: how they ended, why, and the easier step done instead."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('logs', '0005_stop_reports'),
        ('plans', '0006_easier_step'),
    ]

    operations = [
        migrations.AddField(
            model_name='performance',
            name='ended',
            field=models.CharField(choices=[('skipped', 'skipped'), ('stopped', 'stopped')], max_length=8, null=True),
        ),
        migrations.AddField(
            model_name='performance',
            name='step',
            field=models.CharField(choices=[('passive', 'Passive'), ('self_assisted', 'Self-assisted'), ('gravity_reduced', 'Gravity-reduced'), ('active', 'Active'), ('resisted', 'Resisted')], max_length=16, null=True),
        ),
        migrations.AddField(
            model_name='performance',
            name='why',
            field=models.CharField(choices=[('pain', 'pain'), ('too_hard', 'too hard'), ('tired', 'tired'), ('no_time', 'no time'), ('unwell', 'unwell'), ('not_understood', 'did not understand')], max_length=16, null=True),
        ),
        migrations.AddConstraint(
            model_name='performance',
            constraint=models.CheckConstraint(condition=models.Q(('ended__isnull', True), ('ended__in', ['skipped', 'stopped']), _connector='OR'), name='performance_ended_is_known'),
        ),
        migrations.AddConstraint(
            model_name='performance',
            constraint=models.CheckConstraint(condition=models.Q(('why__isnull', True), ('why__in', ['pain', 'too_hard', 'tired', 'no_time', 'unwell', 'not_understood']), _connector='OR'), name='performance_why_is_known'),
        ),
        migrations.AddConstraint(
            model_name='performance',
            constraint=models.CheckConstraint(condition=models.Q(('step__isnull', True), ('step__in', ['passive', 'self_assisted', 'gravity_reduced', 'active']), _connector='OR'), name='performance_step_is_known'),
        ),
    ]
