"""Who changed what, when."""

from django.db import models

from practice.models.people import User


class Change(models.Model):
    """One recorded change: the audit trail. Rows are only ever added."""

    at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        User, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    label = models.CharField(max_length=60, help_text="app.model")
    object_id = models.CharField(max_length=40)
    action = models.CharField(max_length=40)
    reason = models.CharField(max_length=300, blank=True)
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["label", "object_id"], name="change_of_object")]

    def __str__(self) -> str:
        return f"{self.label} {self.object_id}: {self.action}"
