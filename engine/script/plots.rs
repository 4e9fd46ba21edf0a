//! Charts from scripts: of a result, or of figures that the script gathered itself.

use std::sync::Arc;

use rhai::plugin::{Dynamic, FuncRegistration, export_module};
use rhai::{Array, Engine, Map};

use super::Run;
use super::fault::Fault;
use super::files::write_text;
use super::handles::{PlotHandle, Raw};
use super::numbers::{in_words, number};
use super::one_line::one_line;
use super::results::shown;
use crate::report::chart::{Bar, Chart, Figures, Panel, Point, Unit, WITH_CHART, svg};

/// Figures in one chart.
const MOST_FIGURES: usize = 500;
/// The largest figure that is drawn.
const LARGEST: f64 = 1e15;
/// What a map of figures may hold.
const KEYS: [&str; 7] = [
    "title",
    "across",
    "up",
    "low",
    "high",
    "unit",
    "across_unit",
];
const AS_IN: &str = "such as plot(#{ title: \"my figures\", across: [1, 2, 3], up: [0.5, 0.7, 0.6], unit: \"chance\" })";

/// Registers the functions.
pub(super) fn register(engine: &mut Engine, run: &Arc<Run>) {
    engine.register_type_with_name::<PlotHandle>("chart");
    FuncRegistration::new("plot")
        .with_params_info(["figures: PlotGiven", "Raw<PlotHandle>"])
        .with_comments([
            "/// A chart of a result, to be shown or saved: `show(plot(jug.verdict()))`. Of figures of your own: a line if what runs",
            "/// `across` are numbers, with a band if there are `low` and `high`; bars if it is a list of texts. A `title` must be given, and",
            "/// `unit`, what the figures count; `across_unit` says what runs across: `plot(#{ title: \"the lead by doubt\", across: [1, 2, 4], up: [0.8, 0.7, 0.6],",
            "/// low: [0.7, 0.5, 0.3], high: [0.9, 0.9, 0.8], unit: \"chance\", across_unit: \"doubt\" })`.",
        ])
        .register_into_engine(engine, |figures: Dynamic| -> Raw<PlotHandle> {
            let chart = plot(&figures).map_err(Fault::raise)?;
            Ok(PlotHandle(chart.into()))
        });
    let shared = Arc::clone(run);
    FuncRegistration::new("save_as")
        .with_params_info(["chart: &mut PlotHandle", "name: &str", "()"])
        .with_comments([
            "/// Writes the chart as a picture (SVG) below the folder granted with `--write FOLDER`, in the place of one that is there:",
            "/// `plot(jug.verdict()).save_as(\"verdict.svg\")`.",
        ])
        .register_into_engine(
            engine,
            move |chart: &mut PlotHandle, name: &str| -> Raw<()> {
                if !name.to_lowercase().ends_with(".svg") {
                    let fault = Fault::new(format!("a picture is saved as SVG, and `{name}` is no name of one"));
                    return Err(fault.hint("end the name in .svg, such as \"verdict.svg\"").raise());
                }
                write_text(name, &svg::svg(&chart.0), &shared).map_err(Fault::raise)
            },
        );
    let module = rhai::exported_module!(plot_functions);
    engine.register_global_module(module.into());
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod plot_functions {
    /// The chart as the text of a picture (SVG): `let picture = plot(jug.verdict()).svg();`.
    #[rhai_fn(pure)]
    pub fn svg(chart: &mut PlotHandle) -> String {
        crate::report::chart::svg::svg(&chart.0)
    }
}

fn plot(given: &Dynamic) -> Result<Chart, Fault> {
    if let Some(map) = given.read_lock::<Map>() {
        return of_figures(&map);
    }
    if let Some(chart) = shown(given).and_then(|result| result.chart()) {
        return Ok(chart);
    }
    let what = in_words(given);
    Err(Fault::new(format!("there is no chart of {what}"))
        .hint(format!("there is one of {WITH_CHART}"))
        .hint(format!("or of figures of your own, {AS_IN}")))
}

/// A chart of figures that a script gathered.
fn of_figures(map: &Map) -> Result<Chart, Fault> {
    if let Some(unknown) = map.keys().find(|key| !KEYS.contains(&key.as_str())) {
        let fault = Fault::new(format!("a chart of figures knows no `{unknown}`"));
        return Err(fault.nearest_or_known(unknown, KEYS.into_iter()));
    }
    let text = |key: &str| {
        let given = map.get(key).map(|value| {
            let kind = in_words(value);
            let text = value.clone().into_string();
            let text = text.map_err(|_| Fault::new(format!("`{key}` is a text, not {kind}")))?;
            one_line(&format!("`{key}`"), &text)
        });
        given.transpose()
    };
    let title = text("title")?;
    let title = title.ok_or_else(|| Fault::new("a chart needs a `title`").hint(AS_IN))?;
    let unit = text("unit")?;
    let unit = unit.ok_or_else(|| {
        Fault::new("a chart says what its figures count: `unit` is missing").hint(AS_IN)
    })?;
    let unit = Unit::from(unit);
    let across = list(map, "across")?;
    let across = across.ok_or_else(|| Fault::new("`across` is missing").hint(AS_IN))?;
    let up = numbers(map, "up", across.len())?;
    let up = up.ok_or_else(|| Fault::new("`up` is missing").hint(AS_IN))?;
    let (low, high) = (
        numbers(map, "low", across.len())?,
        numbers(map, "high", across.len())?,
    );
    if low.is_some() != high.is_some() {
        return Err(Fault::new(
            "a band has two ends: `low` and `high`, or neither",
        ));
    }
    if across.is_empty() || across.len() > MOST_FIGURES {
        let n = across.len();
        return Err(Fault::new(format!(
            "a chart has from 1 to {MOST_FIGURES} figures, not {n}"
        )));
    }
    for (place, up) in up.iter().enumerate() {
        let ends = low.as_ref().zip(high.as_ref());
        if let Some((low, high)) = ends.map(|(low, high)| (low[place], high[place]))
            && !(low <= *up && up <= &high)
        {
            return Err(Fault::new(format!(
                "figure {}, {up}, lies outside its ends, {low} to {high}",
                place + 1
            )));
        }
    }
    let all = [Some(&up), low.as_ref(), high.as_ref()]
        .into_iter()
        .flatten();
    if unit == Unit::Probability
        && let Some(figure) = all.flatten().find(|p| !(0.0..=1.0).contains(*p))
    {
        return Err(Fault::new(format!("{figure} is no probability"))
            .hint("a probability lies from 0 to 1; for anything else name another `unit`"));
    }
    let end = |ends: &Option<Vec<f64>>, place: usize| ends.as_ref().map(|ends| ends[place]);
    let figures = if across.iter().all(|label| label.is_string()) {
        let bar = |(place, label): (usize, &Dynamic)| Bar {
            low: end(&low, place),
            high: end(&high, place),
            ..Bar::new(label.to_string(), up[place])
        };
        for label in &across {
            one_line("a label", &label.to_string())?;
        }
        Figures::Bars {
            bars: across.iter().enumerate().map(bar).collect(),
        }
    } else {
        let along = figures("across", &across)?;
        if let Some(pair) = along.windows(2).find(|pair| pair[1] <= pair[0]) {
            return Err(Fault::new(format!(
                "`across` grows from left to right, but {} follows {}",
                pair[1], pair[0]
            ))
            .hint("put them in order, each number once"));
        }
        let point = |(place, &across): (usize, &f64)| Point {
            across,
            up: up[place],
            low: end(&low, place),
            high: end(&high, place),
        };
        Figures::Line {
            across: text("across_unit")?.unwrap_or_default(),
            points: along.iter().enumerate().map(point).collect(),
        }
    };
    Ok(Chart {
        title,
        piece: String::new(),
        panels: vec![Panel {
            heading: unit.words().to_owned(),
            unit,
            figures,
        }],
        notes: Vec::new(),
    })
}

fn list(map: &Map, key: &str) -> Result<Option<Array>, Fault> {
    let Some(given) = map.get(key) else {
        return Ok(None);
    };
    let kind = in_words(given);
    let list = given.clone().into_array();
    list.map(Some)
        .map_err(|_| Fault::new(format!("`{key}` is a list, not {kind}")).hint(AS_IN))
}

/// Numbers, as many as stand across.
fn numbers(map: &Map, key: &str, n: usize) -> Result<Option<Vec<f64>>, Fault> {
    let Some(list) = list(map, key)? else {
        return Ok(None);
    };
    if list.len() != n {
        return Err(Fault::new(format!(
            "`{key}` has {} figures where `across` has {n}",
            list.len()
        ))
        .hint("each figure needs its place across"));
    }
    figures(key, &list).map(Some)
}

fn figures(key: &str, list: &[Dynamic]) -> Result<Vec<f64>, Fault> {
    let figure = |(place, value): (usize, &Dynamic)| {
        let place = place + 1;
        let figure = number(value).map_err(|kind| {
            Fault::new(format!("figure {place} of `{key}` is {kind}, no number"))
        })?;
        if figure.abs() <= LARGEST {
            Ok(figure)
        } else {
            Err(Fault::new(format!(
                "figure {place} of `{key}` is {figure}; a chart has room from -{LARGEST:e} to {LARGEST:e}"
            )))
        }
    };
    list.iter().enumerate().map(figure).collect()
}
