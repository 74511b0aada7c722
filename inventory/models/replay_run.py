"""The past played again: what it showed, stored, because it takes longer than a page may."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse


class ReplayRun(models.Model):
    """One replay of the shop's past; the newest whole one is shown."""

    class State(models.TextChoices):
        QUEUED = "queued", "waits to begin"
        RUNNING = "running", "being played"
        DONE = "done", "whole"
        FAILED = "failed", "failed"

    OPEN = (State.QUEUED, State.RUNNING)

    as_of = models.DateField()
    state = models.CharField(max_length=8, choices=State, default=State.QUEUED)
    trouble = models.TextField(blank=True, help_text="why it failed")
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    computer = models.CharField(max_length=80, blank=True, help_text="where it is played")
    lock = models.UUIDField(default=uuid.uuid4, help_text="names the file its process holds")
    made_at = models.DateTimeField(auto_now_add=True)
    seconds = models.FloatField(default=0)
    result = models.JSONField(
        default=dict, help_text="keys as in inventory.queries.replays.shop_replay_data"
    )

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["state"], condition=Q(state="running"), name="one_replay_at_a_time"
            ),
        ]

    def __str__(self) -> str:
        return f"replay of {self.as_of}"

    def get_absolute_url(self) -> str:
        return reverse("replay")
