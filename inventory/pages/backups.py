"""The owner's backups: one made at a button, the newest to take along, and the reminder."""

from typing import Any

from django.http import FileResponse, Http404, HttpRequest
from django.template.defaultfilters import filesizeformat
from django.utils import timezone
from django.utils.formats import date_format

from inventory.exchange.backup import Made, make_backup
from inventory.pages.access import role_required
from inventory.pages.forms import ActionForm
from inventory.pages.shop import OwnersPage
from inventory.queries.backups import backup_is_due, last_backup_at, newest_backup


class MakeBackup(OwnersPage):
    """One button; what is wrong with the stock in the copy is told with it."""

    heading = "Back up the shop"
    sub = "Its records and attached files, as they are now, in one file."
    submit_label = "Back up now"

    def act(self, form: ActionForm) -> Made:
        return make_backup()

    def message_for(self, result: Made) -> str:
        size = filesizeformat(result.backup.size)
        wrong = len(result.manifest.mismatches or ())
        said = f"Backup made and checked, {size}. Take it to another disk."
        if not wrong:
            return said
        return f"{said} The stock in it doesn't add up in {wrong} places; see audit_stock."


@role_required("owner")
def newest_backup_file(request: HttpRequest) -> FileResponse:
    """The newest backup in the shop's own folder, as a download."""
    newest = newest_backup()
    if newest is None:
        raise Http404("There is no backup yet.")
    return FileResponse(newest.path.open("rb"), as_attachment=True, filename=newest.path.name)


def backup_reminder(user: Any) -> str:
    """Tell the owner that a backup is due; empty while none is, and for everyone else."""
    now = timezone.now()
    if not user.is_owner or not backup_is_due(now):
        return ""
    last = last_backup_at()
    if last is None:
        return "No backup was made yet. If this computer fails, the shop's records are gone."
    day = date_format(timezone.localtime(last), "j M Y")
    return f"The last backup was made {(now - last).days} days ago, on {day}."
