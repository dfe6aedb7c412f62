"""What people change about themselves."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from practice import access
from practice.forms.sign_in import AccountForm, PasswordForm
from practice.services.users import change_user, set_password
from practice.views.sign_in import BY_LINK


@sensitive_post_parameters("old", "new")
@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.SIGNED_IN)
def account(request: HttpRequest) -> HttpResponse:
    """Name and phone, and the password, in two forms on one page."""
    user = access.member(request)
    needs_old = user.has_usable_password() and not request.session.get(BY_LINK)
    what = request.POST.get("what") if request.method == "POST" else None
    about = AccountForm(
        request.POST if what == "about" else None,
        initial={"name": user.name, "phone": user.phone},
    )
    password = PasswordForm(
        request.POST if what == "password" else None, user=user, needs_old=needs_old
    )
    if about.is_bound and about.is_valid():
        change_user(user=user, by=user, **about.cleaned_data)
        messages.success(request, "Saved.")
        return redirect("practice:account")
    if password.is_bound and password.is_valid():
        set_password(user=user, password=password.cleaned_data["new"])
        update_session_auth_hash(request, user)
        messages.success(request, "The new password holds from now on.")
        return redirect("practice:account")
    page = {"about": about, "password_form": password}
    status = 422 if about.is_bound or password.is_bound else 200
    return render(request, "practice/account.html", page, status=status)
