"""How a module is piped, and what that makes of each probe.

Usable as a library::

    layout = Layout.from_mapping(mapping)
    layout.fitness("cooling", valves={"bypass_valve": False})["suction_pipe"].verdict
    layout.choose("heating").places["return_superheat"]

Reading files belongs to ``agent.settings``.
"""

from agent.piping.advice import Advice, Position, advise
from agent.piping.choice import (
    ACCUMULATOR_CHANGE,
    ACCUMULATOR_OUTLET,
    COMPRESSOR_INLET,
    RETURN,
    RISE,
    Choice,
    Choices,
    Standing,
    choose,
    loss_side,
    pressure_lost,
)
from agent.piping.drawing import Drawing, Mark, Row, State, draw
from agent.piping.explanation import Case, Explanation, explain
from agent.piping.fitness import BETTER_THAN, Fitness, ProbeFitness, Situation, fitness
from agent.piping.flow_order import Side
from agent.piping.graph import STEADY_MODES, Effect, Inlet, ModePiping, Place
from agent.piping.layout import Layout, LayoutError, Problem

__all__ = [
    "ACCUMULATOR_CHANGE",
    "ACCUMULATOR_OUTLET",
    "BETTER_THAN",
    "COMPRESSOR_INLET",
    "RETURN",
    "RISE",
    "STEADY_MODES",
    "Choice",
    "Choices",
    "Effect",
    "Fitness",
    "Inlet",
    "Layout",
    "LayoutError",
    "ModePiping",
    "Place",
    "ProbeFitness",
    "Problem",
    "Situation",
    "Standing",
    "choose",
    "fitness",
    "loss_side",
    "pressure_lost",
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
