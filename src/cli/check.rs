//! `check`: everything that can be said about case files.

mod plays;

use super::{fail, say};
use crate::balance::{Kind, Mind, Pace, rehearse};
use crate::records::library;
use crate::scenario::case::Tone;
use crate::scenario::diagnostic::{self, Diagnostic, Level};
use crate::scenario::{self, Loaded, load};
use crate::session::Session;
use crate::session::log::Mode;
use clap::ValueEnum;
use plays::Told;
use serde_json::{Value, json};
use std::io::IsTerminal;
use std::path::Path;
use std::sync::Arc;

/// What `check` takes.
#[derive(clap::Args)]
pub struct CheckArgs {
    /// Case files, or names of built-in cases
    #[arg(required = true, value_name = "CASE")]
    cases: Vec<String>,
    /// How to tell: for people, as JSON, or in the interchange format of checking tools
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// The least that is told
    #[arg(long, value_enum, default_value_t = Least::Advice)]
    level: Least,
    /// Also rehearse every play of the case and tell what did not come out (takes seconds for each)
    #[arg(long)]
    plays: bool,
    /// With --plays: rehearse each with so many seeds, and tell where another one than the first comes out otherwise
    #[arg(long, default_value_t = 1, requires = "plays", value_parser = clap::value_parser!(u64).range(1..=1000))]
    seeds: u64,
    /// Also let players who do not judge rehearse the case: none may come to a good ending (part of --plays)
    #[arg(long)]
    naive: bool,
    /// Doubts count as faults
    #[arg(long)]
    strict: bool,
}

/// How to tell.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    Text,
    Json,
    Sarif,
}

/// The least that is told.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Least {
    Fault,
    Doubt,
    Advice,
}

/// Looks at every case: 0 when all are sound, 1 when a fault was found, 2 when one could not be looked at.
pub fn check(args: &CheckArgs) -> u8 {
    let least = match args.level {
        Least::Fault => Level::Fault,
        Least::Doubt => Level::Doubt,
        Least::Advice => Level::Advice,
    };
    let counts = if args.strict { Level::Doubt } else { Level::Fault };
    let mut code = 0;
    let (mut files, mut rehearsed) = (Vec::new(), Vec::new());
    for name in &args.cases {
        let (text, mut found, told) = match library::text(name) {
            Ok(text) => {
                let (found, told) = about(&text, name, args);
                (text, found, told)
            }
            // What lies there and is no case is a fault of the file; what does not lie there cannot be looked at.
            Err(why) if Path::new(name).is_file() => {
                (String::new(), vec![Diagnostic::fault("not-text", 0..0, why)], Vec::new())
            }
            Err(why) => {
                fail(why);
                code = 2;
                continue;
            }
        };
        if code == 0 && found.iter().any(|d| d.level <= counts) {
            code = 1;
        }
        found.retain(|d| d.level <= least);
        files.push((name.clone(), text, found));
        rehearsed.push(told);
    }
    match args.format {
        Format::Text => tell(&files, &rehearsed),
        Format::Json => {
            let all: Vec<Value> = files
                .iter()
                .zip(&rehearsed)
                .map(|((name, text, found), told)| {
                    let found = diagnostic::json(found, text, name);
                    json!({ "file": name, "found": found, "plays": plays::json(told) })
                })
                .collect();
            say(format!("{:#}", Value::Array(all)));
        }
        Format::Sarif => say(format!("{:#}", diagnostic::sarif(&files))),
    }
    code
}

/// Everything about one text, and what its plays came to where they were asked for.
fn about(text: &str, name: &str, args: &CheckArgs) -> (Vec<Diagnostic>, Vec<Told>) {
    let (loaded, mut found) = load(text, name);
    let mut told = Vec::new();
    if let Some(loaded) = loaded {
        let case = Arc::new(loaded);
        found.extend(scenario::check(&case));
        found.extend(scenario::check::start(
            &case,
            Session::new(Arc::clone(&case), 1, Mode::Free).start_doubts(),
        ));
        if args.plays {
            let (more, each) = plays::rehearsals(&case, args.seeds);
            found.extend(more);
            told = each;
        }
        if args.plays || args.naive {
            found.extend(naive(&case));
        }
        diagnostic::sort(&mut found);
    }
    (found, told)
}

/// Players who do not judge, and what they come to.
fn naive(case: &Arc<Loaded>) -> Vec<Diagnostic> {
    let players = [(Mind::DoNothing, 1), (Mind::AlwaysMiddle, 3), (Mind::Random, 5)];
    let tries = players.into_iter().flat_map(|(mind, seeds)| (1..=seeds).map(move |s| (mind.clone(), s)));
    let mut found = Vec::new();
    for (mind, seed) in tries {
        // A case without a model play is told of already.
        let Ok((_, outcome)) = rehearse(case, &mind, seed, Pace::Coarse) else { break };
        if let Some(at) =
            case.case.endings.iter().position(|e| e.id == outcome.ending && e.tone == Tone::Good)
        {
            let path = format!("endings[{at}]");
            let who = match mind.kind() {
                Kind::DoNothing => "whoever does nothing",
                Kind::AlwaysMiddle => "whoever always takes the middle option",
                _ => "whoever answers by chance",
            };
            let span = case.spans.head(&path);
            let told = format!("{who} comes to the good ending `{}` (seed {seed})", outcome.ending);
            found.push(Diagnostic::fault("naive", span, told).at(&path).hint(
                "let wrong answers have their effect, ask for more, or make the ending ask for more; `overwire sweep` shows which answers matter",
            ));
        }
    }
    found
}

fn tell(files: &[(String, String, Vec<Diagnostic>)], rehearsed: &[Vec<Told>]) {
    let colour = std::io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    for ((name, text, found), plays) in files.iter().zip(rehearsed) {
        let told = diagnostic::render(found, text, name, colour);
        if !told.is_empty() {
            say(told.trim_end());
            say("");
        }
        let measures = plays::text(plays);
        if !measures.is_empty() {
            say("How near the plays came:");
            measures.iter().for_each(say);
        }
        let count = |level, one: &str, many: &str| match found.iter().filter(|d| d.level == level).count() {
            0 => None,
            1 => Some(format!("1 {one}")),
            n => Some(format!("{n} {many}")),
        };
        let faults = count(Level::Fault, "fault", "faults");
        let sound = if faults.is_none() { "no fault" } else { "" };
        let parts = [
            faults,
            count(Level::Doubt, "doubt", "doubts"),
            count(Level::Advice, "piece of advice", "pieces of advice"),
        ];
        let parts: Vec<String> = Some(sound.to_owned())
            .filter(|s| !s.is_empty())
            .into_iter()
            .chain(parts.into_iter().flatten())
            .collect();
        say(format!("{name}: {}", parts.join(", ")));
        if let Some(first) = found.first() {
            say(format!("`overwire explain {}` says why that matters.", first.code));
        }
    }
}
