"""What people change about themselves."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from practice.forms.sign_in import AccountForm, PasswordForm, TokenForm
from practice.models import ApiToken
from practice.services.tokens import make_token, take_back_token
from practice.services.users import change_user, set_password
from practice.views.sign_in import BY_LINK


@sensitive_post_parameters("old", "new")
@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.SIGNED_IN)
def account(request: HttpRequest) -> HttpResponse:
    """Name and phone, the password, and tokens, in forms of one page."""
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
    token = TokenForm(request.POST if what == "token" else None, prefix="token")
    if about.is_bound and about.is_valid():
        change_user(user=user, by=user, **about.cleaned_data)
        messages.success(request, "Saved.")
        return redirect("practice:account")
    if password.is_bound and password.is_valid():
        set_password(user=user, password=password.cleaned_data["new"])
        update_session_auth_hash(request, user)
        messages.success(request, "The new password holds from now on.")
        return redirect("practice:account")
    made = _made(request, token)
    page = {
        "about": about,
        "password_form": password,
        "token_form": TokenForm(prefix="token") if made else token,
        "made": made,
        "tokens": ApiToken.objects.visible_to(user),
    }
    bad = not made and any(f.is_bound for f in (about, password, token))
    answer = render(request, "practice/account.html", page, status=422 if bad else 200)
    if made:
        answer["Cache-Control"] = "private, no-store"
    return answer


def _made(request: HttpRequest, form: TokenForm) -> str:
    """The new token's text, this once; '' where none was made."""
    if not form.is_bound or not form.is_valid():
        return ""
    try:
        return make_token(
            user=access.member(request), name=form.cleaned_data["name"], by_hand=True
        )
    except Refused as refusal:
        say(form, refusal)
        return ""


@require_POST
@access.door(access.SIGNED_IN)
def token_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Takes a token back: what uses it gets in no more."""
    token = access.get(ApiToken.objects.visible_to(request.user), pk=pk)
    take_back_token(token=token, by=access.member(request))
    messages.success(request, f"{token.name}: its token opens nothing any more.")
    return redirect("practice:account")
