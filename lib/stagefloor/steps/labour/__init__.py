"""Labour and price: hours with their spread, how costs become a price, and the order of work.

The takeoff does the counting. Hours, costs and margins stay inside; `Estimate.selling` is the one record that may
travel outwards.
"""

from stagefloor.steps.labour.change_price import PricedChange
from stagefloor.steps.labour.changes import Combined, combined, priced_changes
from stagefloor.steps.labour.contract import contract_sum, contract_working
from stagefloor.steps.labour.dates import RulingDate, ruling_dates
from stagefloor.steps.labour.duties import Shared, duties
from stagefloor.steps.labour.estimate import Estimate, Unpriced, estimate
from stagefloor.steps.labour.hours import TaskHours, default_hour_units
from stagefloor.steps.labour.issues import SinceIssue, beyond_orders, last_issue, since_issue
from stagefloor.steps.labour.learning import Lesson, lessons
from stagefloor.steps.labour.materials import MaterialCost, Offer, begun, offers
from stagefloor.steps.labour.order import WorkOrder, WorkStep, order_of_work
from stagefloor.steps.labour.payments import Instalment, applications, schedule
from stagefloor.steps.labour.price import LabourCost, SectionPrice, Selling
from stagefloor.steps.labour.price_move import PriceMove, price_move
from stagefloor.steps.labour.price_page import PricePage, price_page
from stagefloor.steps.labour.quantities import counted
from stagefloor.steps.labour.risk import RiskCost
from stagefloor.steps.labour.rows import RowProblem
from stagefloor.steps.labour.simulation import Spread
from stagefloor.steps.labour.still_open import open_items
from stagefloor.steps.labour.waiting import leads

__all__ = [
    "Combined",
    "Estimate",
    "Instalment",
    "LabourCost",
    "Lesson",
    "MaterialCost",
    "Offer",
    "PriceMove",
    "PricePage",
    "PricedChange",
    "RiskCost",
    "RowProblem",
    "RulingDate",
    "SectionPrice",
    "Selling",
    "Shared",
    "SinceIssue",
    "Spread",
    "TaskHours",
    "Unpriced",
    "WorkOrder",
    "WorkStep",
    "applications",
    "begun",
    "beyond_orders",
    "combined",
    "contract_sum",
    "contract_working",
    "counted",
    "default_hour_units",
    "duties",
    "estimate",
    "last_issue",
    "leads",
    "lessons",
    "offers",
    "open_items",
    "order_of_work",
    "price_move",
    "price_page",
    "priced_changes",
    "ruling_dates",
    "schedule",
    "since_issue",
]
