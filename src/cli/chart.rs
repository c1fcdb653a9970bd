//! `chart`: the phases of a case as a picture, as a graph description, or as State Chart XML.

use super::{fail, say};
use crate::records::library;
use crate::scenario::Loaded;
use crate::scenario::case::Action;
use crate::scenario::chart::export::{Content, Words, dot, scxml, svg};
use clap::ValueEnum;
use std::path::PathBuf;

/// What `chart` takes.
#[derive(clap::Args)]
pub struct ChartArgs {
    /// A case file, or the name of a built-in case
    case: String,
    /// As a picture, as a graph description, or as State Chart XML
    #[arg(long, value_enum, default_value_t = Format::Svg)]
    format: Format,
    /// Write it here instead of to standard output
    #[arg(long)]
    out: Option<PathBuf>,
}

/// What to draw.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    Svg,
    Dot,
    Scxml,
}

/// Draws it: 0, or 2 when there is no such case or it cannot be written.
pub fn chart(args: &ChartArgs) -> u8 {
    let case = match library::case(&args.case) {
        Ok(case) => case,
        Err(why) => return fail(why),
    };
    let words = CaseWords { case: &case };
    let drawn = match args.format {
        Format::Svg => svg(&case.chart, &words, &[]),
        Format::Dot => dot(&case.chart, &words),
        Format::Scxml => scxml(&case.chart, &words),
    };
    match &args.out {
        None => say(drawn.trim_end()),
        Some(path) => {
            if let Err(e) = std::fs::write(path, drawn) {
                return fail(format!("{}: {e}", path.display()));
            }
        }
    }
    0
}

/// How a case's guards and actions read.
pub struct CaseWords<'c> {
    /// The case.
    pub case: &'c Loaded,
}

impl Words<String, Action> for CaseWords<'_> {
    fn guard(&self, guard: &String) -> String {
        guard.clone()
    }
    fn action(&self, action: &Action) -> Content {
        let log = |label: &str, expr: String| Content::Log { label: label.into(), expr };
        match action {
            Action::Say { who, .. } => log("say", format!("{who} speaks")),
            Action::Ask(ask) => log("ask", format!("ask {ask}")),
            Action::Withdraw(ask) => log("withdraw", format!("withdraw {ask}")),
            Action::Send { event, after: None } => Content::Raise(event.clone()),
            Action::Send { event, after: Some(span) } => {
                Content::Send { event: event.clone(), delay_ms: span.ms, id: Some(event.clone()) }
            }
            Action::Cancel(event) => Content::Cancel(event.clone()),
            Action::Bleed(bleed) => log("bleed", format!("{} bleeds", bleed.id)),
            Action::ScaleBleed { id, factor } => log("bleed", format!("{id} x {factor}")),
            Action::Patency { vessel, open } => {
                log("patency", format!("{} {:.0} % open", vessel.label(), 100.0 * open))
            }
            Action::Set { name, to } => {
                Content::Assign { location: format!("var.{name}"), expr: to.to_string() }
            }
            Action::Order(order) => log("order", order.verb().replace('_', " ")),
        }
    }
    fn name(&self) -> &str {
        &self.case.case.id
    }
    fn datamodel(&self) -> &str {
        "overwire"
    }
    fn data(&self) -> Vec<(String, String)> {
        self.case.vars.iter().map(|name| (format!("var.{name}"), "0".into())).collect()
    }
}
