"""What people see when something breaks."""

from django.test import Client, RequestFactory

from practice.views.faults import server_error


def test_a_fault_shows_the_id_that_the_log_has():
    request = RequestFactory().get("/")
    request.house_id = "0123456789ab"
    response = server_error(request)
    assert response.status_code == 500
    assert "Request 0123456789ab" in response.content.decode()


def test_an_unexpected_fault_answers_with_that_page(monkeypatch, db):
    def breaks(*_, **__):
        raise RuntimeError("broken on purpose")

    monkeypatch.setattr("practice.context.house", breaks)
    monkeypatch.setattr("practice.models.Practice.objects.filter", breaks)
    browser = Client(raise_request_exception=False)
    response = browser.get("/sign-in/")
    assert response.status_code == 500
    assert f"Request {response['X-Request-Id']}" in response.content.decode()
    assert "broken on purpose" not in response.content.decode()


def test_a_page_that_is_not_there_says_so_in_a_sentence(as_farrier):
    response = as_farrier.get("/no/such/page/")
    assert response.status_code == 404
    assert "There is no such page, or it is not yours to see" in (
        response.content.decode()
    )


def test_a_program_that_asks_for_what_is_not_there_is_told_as_a_problem(as_farrier):
    response = as_farrier.get("/api/v1/no/such/thing/")
    assert response.status_code == 404
    assert response["Content-Type"] == "application/problem+json"
    assert response.json()["status"] == 404


def test_a_fault_is_told_to_a_program_with_the_id_that_the_log_has():
    request = RequestFactory().get("/api/v1/horses/")
    request.house_id = "0123456789ab"
    response = server_error(request)
    assert response.status_code == 500
    assert response["Content-Type"] == "application/problem+json"
    assert b"0123456789ab" in response.content
