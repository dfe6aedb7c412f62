from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("billing", "0009_one_language_a_client")]

    operations = [
        migrations.AddField(
            model_name="collecting",
            name="receipts_on",
            field=models.BooleanField(
                default=False,
                help_text="a receipt is mailed unless somebody says otherwise",
            ),
        ),
    ]
