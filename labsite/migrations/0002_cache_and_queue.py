"""The two tables that are not models: the shared cache, and the queue inside the database."""

from django.core.management import call_command
from django.db import migrations
from pgmq.install import get_embedded_install_sql


def make_cache_table(apps, schema_editor):
    call_command("createcachetable", database=schema_editor.connection.alias, verbosity=0)


def make_queue(apps, schema_editor):
    with schema_editor.connection.cursor() as cursor:
        cursor.execute("SELECT to_regclass('pgmq.meta')")
        if cursor.fetchone()[0] is None:
            cursor.execute(get_embedded_install_sql())


class Migration(migrations.Migration):
    dependencies = [("labsite", "0001_initial")]

    operations = [
        migrations.RunPython(make_cache_table, migrations.RunPython.noop, elidable=False),
        migrations.RunPython(make_queue, migrations.RunPython.noop, elidable=False),
    ]
