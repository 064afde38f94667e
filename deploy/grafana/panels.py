"""What the dashboards are made of: queries, panels, and how states, units and colours are shown.

A metric that is absent stays absent: no panel fills a gap, joins over one or draws it as zero.
"""

from __future__ import annotations

from collections.abc import Sequence

from grafana_foundation_sdk.builders import (
    common,
    dashboard,
    prometheus,
    stat,
    statetimeline,
    table,
    timeseries,
)
from grafana_foundation_sdk.models import common as options
from grafana_foundation_sdk.models import dashboard as model
from grafana_foundation_sdk.models import prometheus as prometheus_model

KELVIN, CELSIUS, SECONDS, SHARE, PER_MINUTE, PLAIN = "kelvin", "celsius", "s", "percentunit", "cpm", "none"
WIDTH = 24

CALM, COOL, WARM = "#3d7f7a", "#4a77ad", "#b8673a"
GREY, AMBER, RUST, PLUM = "#868b94", "#cc9a2e", "#b23c3c", "#7a5c9e"

MODES = {
    "off": GREY,
    "starting": AMBER,
    "cooling": COOL,
    "heating": WARM,
    "simultaneous": CALM,
    "defrost": "#9db8cf",
    "oil_recovery": "#c7b27a",
    "unknown": PLUM,
}
STATUSES = {
    "decided": CALM,
    "not_settled": AMBER,
    "not_decidable": PLUM,
    "missing": RUST,
    "not_measurable": GREY,
}
FITNESSES = {
    "fit": CALM,
    "partial": "#7fb3ae",
    "mixed": AMBER,
    "unproven": PLUM,
    "idle": GREY,
    "high_side": WARM,
}
PRIORITIES = {"low": "#d8c27a", "medium": AMBER, "high": RUST}
SOURCE = model.DataSourceRef(type_val="prometheus", uid="${source}")

Query = prometheus.Dataquery
Panel = stat.Panel | statetimeline.Panel | table.Panel | timeseries.Panel


def query(expr: str, legend: str = "", ref: str = "A", *, rows: bool = False) -> Query:
    """A course over time; ``rows``: what is true now, as the rows of a table."""
    made = Query().expr(expr).ref_id(ref).datasource(SOURCE).legend_format(legend)
    return made.instant().format(prometheus_model.PromQueryFormat.TABLE) if rows else made.range()


def now(expr: str, legend: str = "", ref: str = "A") -> Query:
    """What is true now, for a panel of one figure."""
    return Query().expr(expr).ref_id(ref).datasource(SOURCE).legend_format(legend).instant()


def coded(metric: str, label: str, states: Sequence[str], where: str, by: str) -> str:
    """States that are labels, as numbers from 1 on; ``states_shown`` turns them into words again."""
    parts = [f'{number} * {metric}{{{where}, {label}="{state}"}}' for number, state in enumerate(states, 1)]
    return f"max by ({by}) ({' or '.join(parts)})"


def states_shown(states: dict[str, str]) -> list[model.ValueMapping]:
    """The words and colours of what ``coded`` made."""
    words = {
        str(number): model.ValueMappingResult(text=state.replace("_", " "), color=colour, index=number)
        for number, (state, colour) in enumerate(states.items(), 1)
    }
    return [model.ValueMap(options=words)]


def words_shown(*shown: tuple[int, str, str]) -> list[model.ValueMapping]:
    """Words and colours for single values."""
    return [
        model.ValueMap(
            options={
                str(value): model.ValueMappingResult(text=text, color=colour, index=value)
                for value, text, colour in shown
            }
        )
    ]


def steps(*from_value: tuple[float | None, str]) -> dashboard.ThresholdsConfig:
    """Colours from a value on; the first holds from the lowest."""
    made = [model.Threshold(value=value, color=colour) for value, colour in from_value]
    return dashboard.ThresholdsConfig().mode(model.ThresholdsMode.ABSOLUTE).steps(made)


def course(
    title: str, about: str, unit: str, queries: Sequence[Query], *, wide: int = 12
) -> timeseries.Panel:
    """Values over time, with gaps where there were none."""
    panel = (
        timeseries.Panel()
        .title(title)
        .description(about)
        .datasource(SOURCE)
        .unit(unit)
        .span(wide)
        .height(8)
        .line_width(2)
        .fill_opacity(0)
        .span_nulls(False)
        .show_points(options.VisibilityMode.AUTO)
        .no_value("no value")
        .legend(common.VizLegendOptions().display_mode(options.LegendDisplayMode.LIST).placement(
            options.LegendPlacement.BOTTOM).show_legend(True))
        .tooltip(common.VizTooltipOptions().mode(options.TooltipDisplayMode.MULTI))
    )  # fmt: skip
    for each in queries:
        panel = panel.with_target(each)
    return panel


def with_band(panel: timeseries.Panel, lower: str, upper: str) -> timeseries.Panel:
    """The uncertainty: what lies between two of the panel's series is shaded, without lines of their own."""
    hidden = [
        model.DynamicConfigValue(id_val="custom.lineWidth", value=0),
        model.DynamicConfigValue(id_val="custom.showPoints", value="never"),
        model.DynamicConfigValue(
            id_val="custom.hideFrom", value={"legend": True, "tooltip": False, "viz": False}
        ),
    ]
    fill = [
        model.DynamicConfigValue(id_val="custom.fillBelowTo", value=lower),
        model.DynamicConfigValue(id_val="custom.fillOpacity", value=22),
    ]
    return panel.override_by_name(lower, hidden).override_by_name(upper, [*hidden, *fill])


def ribbon(
    title: str,
    about: str,
    queries: Sequence[Query],
    states: dict[str, str],
    *,
    wide: int = WIDTH,
    high: int = 6,
) -> statetimeline.Panel:
    """States over time, a line each; where there is none the line is empty."""
    panel = (
        statetimeline.Panel()
        .title(title)
        .description(about)
        .datasource(SOURCE)
        .mappings(states_shown(states))
        .color_scheme(dashboard.FieldColor().mode(model.FieldColorModeId.THRESHOLDS))
        .span(wide)
        .height(high)
        .merge_values(True)
        .show_value(options.VisibilityMode.AUTO)
        .row_height(0.8)
        .no_value("nothing in this time")
        .legend(common.VizLegendOptions().display_mode(options.LegendDisplayMode.LIST).placement(
            options.LegendPlacement.BOTTOM).show_legend(True))
    )  # fmt: skip
    for each in queries:
        panel = panel.with_target(each)
    return panel


def figure(
    title: str,
    about: str,
    unit: str,
    queries: Sequence[Query],
    *,
    wide: int = 4,
    high: int = 4,
    named: bool = False,
    mappings: list[model.ValueMapping] | None = None,
    thresholds: dashboard.ThresholdsConfig | None = None,
    no_value: str = "no value",
) -> stat.Panel:
    """What is true now; ``named``: the name of the series is what is to be read."""
    mode = options.BigValueTextMode.NAME if named else options.BigValueTextMode.AUTO
    panel = (
        stat.Panel()
        .title(title)
        .description(about)
        .datasource(SOURCE)
        .unit(unit)
        .span(wide)
        .height(high)
        .text_mode(mode)
        .graph_mode(options.BigValueGraphMode.NONE)
        .color_mode(options.BigValueColorMode.VALUE)
        .reduce_options(common.ReduceDataOptions().calcs(["lastNotNull"]))
        .thresholds(thresholds or steps((None, CALM)))
        .no_value(no_value)
    )
    if mappings:
        panel = panel.mappings(mappings)
    if unit in (KELVIN, CELSIUS):
        panel = panel.decimals(1)
    for each in queries:
        panel = panel.with_target(each)
    return panel


def listing(
    title: str,
    about: str,
    queries: Sequence[Query],
    columns: dict[str, str],
    *,
    hidden: Sequence[str] = (),
    units: dict[str, str] | None = None,
    wide: int = WIDTH,
    high: int = 9,
    no_value: str = "none",
) -> table.Panel:
    """Rows of what is true now. ``columns``: what each is called, in order; ``units`` by those names."""
    order = {name: number for number, name in enumerate(columns)}
    organize = {
        "excludeByName": dict.fromkeys(("Time", "__name__", "job", "instance", *hidden), True),
        "renameByName": columns,
        "indexByName": order,
    }
    panel = (
        table.Panel()
        .title(title)
        .description(about)
        .datasource(SOURCE)
        .span(wide)
        .height(high)
        .no_value(no_value)
        .with_transformation(model.DataTransformerConfig(id_val="merge", options={}))
        .with_transformation(model.DataTransformerConfig(id_val="organize", options=organize))
    )
    for name, unit in (units or {}).items():
        decimals = [model.DynamicConfigValue(id_val="decimals", value=1)] if unit in (KELVIN, CELSIUS) else []
        panel = panel.override_by_name(name, [model.DynamicConfigValue(id_val="unit", value=unit), *decimals])
    for each in queries:
        panel = panel.with_target(each)
    return panel


def coloured(panel: table.Panel, columns: dict[str, dict[str, str]]) -> table.Panel:
    """Words of columns in the colours of their states; the word itself says it too."""
    for column, states in columns.items():
        words = {
            state: {"text": state.replace("_", " "), "color": colour, "index": number}
            for number, (state, colour) in enumerate(states.items())
        }
        shown = [
            model.DynamicConfigValue(id_val="mappings", value=[{"type": "value", "options": words}]),
            model.DynamicConfigValue(id_val="custom.cellOptions", value={"type": "color-text"}),
        ]
        panel = panel.override_by_name(column, shown)
    return panel


def linked(panel: table.Panel, column: str) -> table.Panel:
    """A column whose words lead to the module's own dashboard."""
    fields = "&".join(f"var-{name}=${{__data.fields.{name}}}" for name in ("site", "system", "module"))
    link = {"title": "this module", "url": f"/d/dewline-module?{fields}&${{__url_time_range}}"}
    return panel.override_by_name(column, [model.DynamicConfigValue(id_val="links", value=[link])])


def board(uid: str, title: str, about: str, since: str, refresh: str) -> dashboard.Dashboard:
    """An empty dashboard with its data source to choose and the way to the others."""
    return (
        dashboard.Dashboard(title)
        .uid(uid)
        .description(about)
        .tags(["dewline"])
        .timezone("browser")
        .time(since, "now")
        .refresh(refresh)
        .tooltip(model.DashboardCursorSync.CROSSHAIR)
        .readonly()
        .link(
            dashboard.DashboardLink("Dewline")
            .type(model.DashboardLinkType.DASHBOARDS)
            .tags(["dewline"])
            .include_vars(True)
            .keep_time(True)
        )
        .with_variable(dashboard.DatasourceVariable("source").label("Prometheus").type("prometheus"))
    )


def choice(name: str, label: str, metric: str, *, all_of_them: bool = False) -> dashboard.QueryVariable:
    """A variable whose values are those of a label."""
    made = (
        dashboard.QueryVariable(name)
        .label(label)
        .datasource(SOURCE)
        .query(f"label_values({metric}, {name})")
        .refresh(model.VariableRefresh.ON_TIME_RANGE_CHANGED)
        .sort(model.VariableSort.ALPHABETICAL_ASC)
    )
    return made.multi(True).include_all(True).all_value(".+") if all_of_them else made
