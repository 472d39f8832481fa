# The entry of an act is declared once, in `EnteredAct`; no SQL follows.

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('batches', '0004_what_the_bench_takes_back'),
    ]

    operations = [
        migrations.AlterField(
            model_name='observation',
            name='entry',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='batches.entry'),
        ),
        migrations.AlterField(
            model_name='reading',
            name='entry',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='batches.entry'),
        ),
        migrations.AlterField(
            model_name='replunge',
            name='entry',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='batches.entry'),
        ),
        migrations.AlterField(
            model_name='runstart',
            name='entry',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='batches.entry'),
        ),
        migrations.AlterField(
            model_name='runvoid',
            name='entry',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='batches.entry'),
        ),
        migrations.AlterField(
            model_name='takenout',
            name='entry',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='batches.entry'),
        ),
    ]
