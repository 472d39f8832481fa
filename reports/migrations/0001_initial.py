import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('batches', '0001_initial'),
        ('labsite', '0001_initial'),
        ('particles', '0001_initial'),
        ('pghistory', '0007_auto_20250421_0444'),
    ]

    operations = [
        migrations.CreateModel(
            name='Certificate',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.CharField(max_length=24, unique=True)),
                ('revision', models.PositiveSmallIntegerField(default=0)),
                ('context', models.JSONField(help_text='The frozen content every rendering came from.')),
                ('pdf', models.BinaryField()),
                ('data_json', models.BinaryField()),
                ('data_csv', models.BinaryField()),
                ('sha256', models.CharField(help_text='Of the PDF.', max_length=64)),
                ('check_code', models.CharField(max_length=16)),
                ('issued_at', models.DateTimeField()),
                ('issued_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('job', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='certificates', to='particles.job')),
                ('replaces', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='replaced_by', to='reports.certificate')),
            ],
            options={
                'ordering': ['-issued_at'],
                'constraints': [models.UniqueConstraint(fields=('job', 'revision'), name='one_certificate_per_job_and_revision'), models.CheckConstraint(condition=models.Q(models.Q(('replaces__isnull', True), ('revision', 0)), models.Q(('replaces__isnull', False), ('revision__gt', 0)), _connector='OR'), name='a_revision_names_what_it_replaces')],
            },
        ),
        migrations.CreateModel(
            name='CertificateEvent',
            fields=[
                ('pgh_id', models.AutoField(primary_key=True, serialize=False)),
                ('pgh_created_at', models.DateTimeField(auto_now_add=True)),
                ('pgh_label', models.TextField(help_text='The event label.')),
                ('id', models.BigIntegerField()),
                ('number', models.CharField(max_length=24)),
                ('revision', models.PositiveSmallIntegerField(default=0)),
                ('context', models.JSONField(help_text='The frozen content every rendering came from.')),
                ('pdf', models.BinaryField()),
                ('data_json', models.BinaryField()),
                ('data_csv', models.BinaryField()),
                ('sha256', models.CharField(help_text='Of the PDF.', max_length=64)),
                ('check_code', models.CharField(max_length=16)),
                ('issued_at', models.DateTimeField()),
                ('issued_by', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to=settings.AUTH_USER_MODEL)),
                ('job', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='particles.job')),
                ('pgh_context', models.ForeignKey(db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='pghistory.context')),
                ('pgh_obj', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='events', to='reports.certificate')),
                ('replaces', models.ForeignKey(blank=True, db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='reports.certificate')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='CertificateResult',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('certificate', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='reports.certificate')),
                ('result', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='batches.result')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('certificate', 'result'), name='a_result_stands_once_on_a_certificate')],
            },
        ),
        migrations.CreateModel(
            name='CertificateResultEvent',
            fields=[
                ('pgh_id', models.AutoField(primary_key=True, serialize=False)),
                ('pgh_created_at', models.DateTimeField(auto_now_add=True)),
                ('pgh_label', models.TextField(help_text='The event label.')),
                ('id', models.BigIntegerField()),
                ('certificate', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='reports.certificate')),
                ('pgh_context', models.ForeignKey(db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='pghistory.context')),
                ('pgh_obj', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='events', to='reports.certificateresult')),
                ('result', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='batches.result')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='Download',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('pdf', 'Pdf'), ('json', 'Json'), ('csv', 'Csv')], max_length=4)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('certificate', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='downloads', to='reports.certificate')),
            ],
            options={
                'ordering': ['-at'],
            },
        ),
        migrations.CreateModel(
            name='DownloadEvent',
            fields=[
                ('pgh_id', models.AutoField(primary_key=True, serialize=False)),
                ('pgh_created_at', models.DateTimeField(auto_now_add=True)),
                ('pgh_label', models.TextField(help_text='The event label.')),
                ('id', models.BigIntegerField()),
                ('kind', models.CharField(choices=[('pdf', 'Pdf'), ('json', 'Json'), ('csv', 'Csv')], max_length=4)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to=settings.AUTH_USER_MODEL)),
                ('certificate', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', related_query_name='+', to='reports.certificate')),
                ('pgh_context', models.ForeignKey(db_constraint=False, null=True, on_delete=django.db.models.deletion.DO_NOTHING, related_name='+', to='pghistory.context')),
                ('pgh_obj', models.ForeignKey(db_constraint=False, on_delete=django.db.models.deletion.DO_NOTHING, related_name='events', to='reports.download')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.AddField(
            model_name='certificate',
            name='results',
            field=models.ManyToManyField(related_name='certificates', through='reports.CertificateResult', to='batches.result'),
        ),
    ]
