"""In which wave each door gets its core, so that the crew walks as little as it can.

A rotation keys many doors anew with few spare cores: the spares are pinned, swapped in, and the cores that
came out are pinned for the next doors. A wave is one round of that; it takes as many doors of a format as
there are spares of it. A visit is one building in one wave. Doors that share a key belong together: between
the first and the last of them whoever uses that key carries two.

The plan has the fewest waves that the spares allow (or as many as are granted), and among those few visits:
buildings are put whole into waves, or one after the other in a row that is cut where a wave is full, in many
orders; then a few waves at a time are dealt out anew (``reshuffling``), and a solver (CP-SAT) looks at the
whole, within a measure of effort. Beside the visits stands a bound that no plan can go below: a building with
n doors of a format takes at least ceil(n / spares) visits, and where the waves are so full that buildings
must be cut, the fewest cuts are counted (``splitting``).
"""

from keyctl.rotations.planning.question import Batch, NoPlan, Plan, Question, fewest_waves
from keyctl.rotations.planning.waves import EFFORT, plan_waves

__all__ = ["EFFORT", "Batch", "NoPlan", "Plan", "Question", "fewest_waves", "plan_waves"]
