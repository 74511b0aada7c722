"""One row for each action done, so that the same form sent twice acts once."""

from django.db import models


class Request(models.Model):
    key = models.UUIDField(primary_key=True)
    action = models.CharField(max_length=40)
    digest = models.CharField(max_length=64, help_text="of what was asked for")
    result_model = models.CharField(max_length=40, blank=True)
    result_id = models.BigIntegerField(null=True)
    at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return f"{self.action} {self.key}"
