"""The outbox: what went out, what waits, what needs a decision."""

from django.conf import settings
from django.contrib import messages as notes
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from practice import access
from practice.errors import Refused
from practice.models import Message
from practice.selectors import messages_in
from practice.services.messages import let_go, send_again

ON_A_PAGE = 50


@require_safe
@access.door(access.BOOKS)
def messages(request: HttpRequest) -> HttpResponse:
    """The outbox, newest first, by state."""
    state = request.GET.get("state", "")
    page = Paginator(messages_in(state), ON_A_PAGE).get_page(request.GET.get("page"))
    told = {
        "page": page,
        "state": state,
        "states": Message.State.choices,
        "stuck": messages_in("stuck").count(),
        "mail_folder": "" if settings.EMAIL_HOST else settings.EMAIL_FILE_PATH,
    }
    return render(request, "practice/messages.html", told)


@require_POST
@access.door(access.BOOKS)
def message_decide(request: HttpRequest, pk: int) -> HttpResponse:
    """Sends a failed or unsure message again, or (``what=let_go``) lets it go."""
    found = access.get(Message.objects.all(), pk=pk)
    decide = let_go if request.POST.get("what") == "let_go" else send_again
    try:
        decide(message=found, by=access.member(request))
    except Refused as refusal:
        notes.error(request, refusal.sentence)
    return redirect("practice:messages")
