"""How a module is piped, and what that makes of each probe.

Usable as a library::

    layout = Layout.from_mapping(mapping)
    layout.fitness("cooling", valves={"bypass_valve": False})["suction_pipe"].verdict
    layout.choose("heating").places["return_superheat"]

Reading files belongs to ``agent.settings``.
"""

from agent.piping.advice import (
    Advice,
    Position,
    advise,
    called,
    has_nothing_between,
    stretches,
    whereabouts,
)
from agent.piping.bodies import Body, bodies
from agent.piping.checks import Problem
from agent.piping.choice import (
    ACCUMULATOR_CHANGE,
    ACCUMULATOR_OUTLET,
    COMPRESSOR_INLET,
    LAYOUT_NOT_KNOWN,
    RETURN,
    RISE,
    Choice,
    Choices,
    Standing,
    choose,
)
from agent.piping.drawing import Drawing, Mark, Row, State, draw
from agent.piping.explanation import Case, Explanation, explain
from agent.piping.fitness import BETTER_THAN, Fitness, ProbeFitness, fitness
from agent.piping.flow_order import Side
from agent.piping.graph import (
    NOT_KNOWN,
    STEADY_MODES,
    Coil,
    Effect,
    Graph,
    Injection,
    Inlet,
    ModePiping,
    Place,
)
from agent.piping.layout import Layout
from agent.piping.liquid import LiquidFitness, SubcoolingFitness, subcooling_probes
from agent.piping.pressure import loss_side, pressure_lost
from agent.piping.reader import LayoutError
from agent.piping.sides import with_side
from agent.piping.situation import Situation

__all__ = [
    "ACCUMULATOR_CHANGE",
    "ACCUMULATOR_OUTLET",
    "BETTER_THAN",
    "COMPRESSOR_INLET",
    "LAYOUT_NOT_KNOWN",
    "NOT_KNOWN",
    "RETURN",
    "RISE",
    "STEADY_MODES",
    "Body",
    "Choice",
    "Choices",
    "Coil",
    "Effect",
    "Fitness",
    "Graph",
    "Injection",
    "Inlet",
    "Layout",
    "LayoutError",
    "LiquidFitness",
    "ModePiping",
    "Place",
    "ProbeFitness",
    "Problem",
    "Situation",
    "Standing",
    "SubcoolingFitness",
    "bodies",
    "choose",
    "fitness",
    "loss_side",
    "pressure_lost",
    "subcooling_probes",
    "called",
    "has_nothing_between",
    "stretches",
    "whereabouts",
    "with_side",
    "Advice",
    "Position",
    "advise",
    "Drawing",
    "Mark",
    "Row",
    "State",
    "draw",
    "Case",
    "Explanation",
    "explain",
    "Side",
]
