"""What planning weighs: shown with what it means, changed, as usual again."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from practice import access
from practice.errors import Refused
from practice.forms.answers import say
from scheduling.forms.weights import WeightsForm, shown
from scheduling.planner.weighing import told
from scheduling.selectors.weights import weights_in_use
from scheduling.services.weights import set_weights


@require_http_methods(["GET", "HEAD", "POST"])
@access.door(access.HEAD)
def weights(request: HttpRequest) -> HttpResponse:
    """Each weight with its words, its usual value and an example."""
    now = weights_in_use()
    form = WeightsForm(request.POST or None, initial=shown(now))
    if request.method == "POST" and form.is_valid():
        try:
            set_weights(said=form.cleaned_data, by=access.member(request))
        except Refused as refusal:
            say(form, refusal)
        else:
            messages.success(request, "Weeks are planned with these from now on.")
            return redirect("scheduling:weights")
    rows = told(form.weights() if form.is_bound else now)
    page = {
        "form": form,
        "rows": [(one, form[one.what.name]) for one in rows],
        "changed": any(not one.is_usual for one in told(now)),
    }
    status = 422 if form.is_bound else 200
    return render(request, "scheduling/weights.html", page, status=status)


@require_safe
@access.door(access.HEAD)
def weight_examples(request: HttpRequest) -> JsonResponse:
    """What the weights in the address would mean, by name, while they are typed; one
    that is none counts as usual."""
    form = WeightsForm(request.GET)
    form.is_valid()
    return JsonResponse({one.what.name: one.example for one in told(form.weights())})


@require_POST
@access.door(access.HEAD)
def usual_weights(request: HttpRequest) -> HttpResponse:
    """All weights as usual again."""
    set_weights(said={}, by=access.member(request))
    messages.success(request, "All weights are as usual again.")
    return redirect("scheduling:weights")
