import pytest
from django.utils import timezone

from practice import outbox
from practice.errors import Refused
from practice.models import Change, Message
from practice.services import messages as service
from practice.services.sign_in import send_link
from tests import factories

State = Message.State


def _message(state=State.FAILED, **over):
    n = Message.objects.count()
    message = outbox.queue_mail(
        **{
            "kind": "invoice",
            "to": "morag@example.org",
            "subject": f"Invoice {n}",
            "body": "…",
            "key": f"mail-{n}",
            **over,
        }
    )
    message.state = state
    message.tries = 6
    message.answer = "ConnectionRefusedError: nobody there"
    message.handed_over_at = timezone.now() if state == State.UNSURE else None
    message.save()
    return message


@pytest.mark.parametrize("state", [State.FAILED, State.UNSURE])
def test_a_stuck_message_is_sent_again_once(practice, farrier, mailoutbox, state):
    message = _message(state)
    service.send_again(message=message, by=farrier)
    assert (message.state, message.tries) == (State.READY, 0)
    with pytest.raises(Refused, match="no longer"):
        service.send_again(message=message, by=farrier)
    outbox.drain()
    assert len(mailoutbox) == 1
    change = Change.objects.get()
    assert (change.before, change.after) == ({"state": state}, {"state": "ready"})


def test_a_message_let_go_is_not_sent(practice, farrier, mailoutbox):
    message = _message()
    service.let_go(message=message, by=farrier)
    assert message.state == State.LET_GO
    assert "Ailsa Farrier" in message.answer
    outbox.drain()
    assert mailoutbox == []


@pytest.mark.parametrize("state", [State.READY, State.CLAIMED, State.SENT])
def test_only_a_stuck_message_is_decided_about(practice, farrier, state):
    message = _message(state)
    for decide in (service.send_again, service.let_go):
        with pytest.raises(Refused):
            decide(message=message, by=farrier)
    message.refresh_from_db()
    assert message.state == state


def test_an_old_sign_in_link_is_not_sent_again(practice, farrier):
    message = _message(kind="sign_in_link")
    with pytest.raises(Refused, match="ask for a new one"):
        service.send_again(message=message, by=farrier)


def test_the_page_shows_states_and_takes_decisions(as_office):
    stuck, sent = _message(), _message(State.SENT, subject="The sent one")
    page = as_office.get("/messages/").content.decode()
    assert "1 needs a decision" in page
    assert "nobody there" in page
    assert page.count("Send again") == 1
    only = as_office.get("/messages/?state=stuck").content.decode()
    assert stuck.subject in only
    assert sent.subject not in only
    as_office.post(f"/messages/{stuck.pk}/", {"what": "let_go"})
    stuck.refresh_from_db()
    assert stuck.state == State.LET_GO
    late = as_office.post(f"/messages/{stuck.pk}/", {"what": "again"}, follow=True)
    assert "no longer failed or unsure" in late.content.decode()


def test_the_page_never_shows_a_links_text(as_office, owner):
    send_link(user=owner)
    body = Message.objects.get().body
    token = body.split("/sign-in/link/")[1].split("/")[0]
    assert token not in as_office.get("/messages/").content.decode()


def test_the_list_asks_the_same_number_of_queries(as_office, grows_flat):
    def make():
        _message(client=factories.make_client())

    assert grows_flat(as_office, "/messages/", make) <= 6


def test_which_roles_see_messages(request, practice):
    message = _message()
    for who in ("apprentice", "owner", "barn_contact"):
        browser = request.getfixturevalue(f"as_{who}")
        assert browser.get("/messages/").status_code == 403
        assert browser.post(f"/messages/{message.pk}/").status_code == 403
    for who in ("farrier", "office"):
        browser = request.getfixturevalue(f"as_{who}")
        assert browser.get("/messages/").status_code == 200
