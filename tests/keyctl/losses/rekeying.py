"""From a loss to cores in doors, as people do it: plans, the choice, every line worked."""

from keyctl.cores.models import Core
from keyctl.losses import services
from keyctl.losses.models import LossCase, RekeyPlan
from keyctl.orders import services as orders
from keyctl.orders.models import OrderLine
from tests.cast import Cast
from tests.jobs import finish
from tests.keyctl.losses.estate import Estate


def planned(estate: Estate, name: str) -> LossCase:
    """A copy is lost and plans are worked out by the locksmith."""
    case = estate.lose(estate.held(name))
    finish(services.make_plans(actor=estate.cast.locksmith, case=case))
    case.refresh_from_db()
    return case


def plan_of(case: LossCase, kind: str, scope: str = "all") -> RekeyPlan:
    return next(plan for plan in case.plans.all() if (plan.kind, plan.figures["scope"]) == (kind, scope))


def choose(estate: Estate, case: LossCase, kind: str, scope: str = "all") -> RekeyPlan:
    plan = plan_of(case, kind, scope)
    services.choose_plan(actor=estate.cast.officer, case=case, plan=plan, version=case.version)
    case.refresh_from_db()
    plan.refresh_from_db()
    return plan


def work(cast: Cast, case: LossCase) -> None:
    """Every line: cores pinned and let go at the bench, swapped at the door with their checks, keys cut."""
    lines = OrderLine.objects.filter(order__case_order__case=case, state=OrderLine.State.OPEN)
    for line in lines.filter(order__kind="pin"):
        pinned = orders.pin_line(actor=cast.locksmith, line=line)
        orders.let_go_untried(actor=cast.locksmith, line=pinned, why="Tried elsewhere")
    for line in lines.filter(order__kind="swap"):
        swap(cast, line)
    for line in lines.filter(order__kind="cut"):
        orders.cut_line(actor=cast.locksmith, line=line)


def swap(cast: Cast, line: OrderLine) -> None:
    assert line.meant
    assert line.housing
    core = Core.objects.get(pk=line.meant.pk)
    orders.choose_core(actor=cast.locksmith, line=line, core=core)
    now = line.housing.cores.first()
    orders.complete_swap(
        actor=cast.locksmith,
        line=line,
        core_in_version=core.version,
        core_out_id=now.pk if now else None,
        put_at="bench",
        operating_key_turned=True,
        control_key_came_out=True,
        egress_and_latch_tried=True,
    )
