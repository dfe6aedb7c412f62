"""The language that was chosen for a client's documents becomes that of all that goes
out to the client, and stands with the client."""

from django.db import migrations


def to_the_client(apps, schema_editor):
    for terms in (
        apps.get_model("billing", "ClientTerms")
        .objects.exclude(language="")
        .select_related("client")
    ):
        terms.client.language = terms.language
        terms.client.save(update_fields=["language"])


def to_the_terms(apps, schema_editor):
    terms = apps.get_model("billing", "ClientTerms").objects
    clients = apps.get_model("practice", "Client").objects
    for client in clients.exclude(language=""):
        terms.update_or_create(client=client, defaults={"language": client.language})


class Migration(migrations.Migration):
    dependencies = [
        ("billing", "0008_travel_of_round"),
        ("practice", "0005_what_was_asked_for"),
    ]

    operations = [
        migrations.RunPython(to_the_client, to_the_terms),
        migrations.RemoveField(model_name="clientterms", name="language"),
    ]
