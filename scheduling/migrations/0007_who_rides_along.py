"""Who rides along, said day by day. Until now an apprentice anywhere in the practice made
two people of every day of every farrier: each apprentice now rides along with one
farrier on all usual days, and whoever runs the practice comes first."""

from datetime import time

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def let_apprentices_ride_along(apps, schema_editor):
    User = apps.get_model("practice", "User")
    UsualDay = apps.get_model("scheduling", "UsualDay")
    active = User.objects.filter(is_active=True)
    farriers = active.filter(role="farrier").order_by("-runs_practice", "pk")
    apprentices = active.filter(role="apprentice").order_by("pk")
    for farrier, apprentice in zip(farriers, apprentices, strict=False):
        days = UsualDay.objects.filter(farrier=farrier)
        if not days.exists():
            # Nothing set counted as every day from eight to five.
            UsualDay.objects.bulk_create(
                UsualDay(farrier=farrier, weekday=n, starts=time(8), ends=time(17))
                for n in range(1, 8)
            )
        days.update(rides_along=apprentice)


class Migration(migrations.Migration):
    dependencies = [
        ("practice", "0005_what_was_asked_for"),
        ("scheduling", "0006_outline_of_an_area"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="usualday",
            name="rides_along",
            field=models.ForeignKey(
                blank=True,
                help_text="an apprentice, or a farrier without a round of own on that day",
                null=True,
                on_delete=django.db.models.deletion.SET_NULL,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="workingday",
            name="rides_alone",
            field=models.BooleanField(
                default=False, help_text="nobody rides along, whatever is usual"
            ),
        ),
        migrations.AddField(
            model_name="workingday",
            name="rides_along",
            field=models.ForeignKey(
                blank=True,
                help_text="on this one day; nobody named: as usual, unless alone",
                null=True,
                on_delete=django.db.models.deletion.SET_NULL,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddConstraint(
            model_name="usualday",
            constraint=models.UniqueConstraint(
                fields=("rides_along", "weekday"), name="rides_along_with_one"
            ),
        ),
        migrations.AddConstraint(
            model_name="workingday",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("rides_along__isnull", True),
                    models.Q(("is_off", False), ("rides_alone", False)),
                    _connector="OR",
                ),
                name="working_day_alone_or_not",
            ),
        ),
        migrations.AddConstraint(
            model_name="workingday",
            constraint=models.UniqueConstraint(
                fields=("rides_along", "day"), name="rides_along_with_one_that_day"
            ),
        ),
        migrations.RunPython(
            let_apprentices_ride_along, migrations.RunPython.noop, elidable=True
        ),
    ]
