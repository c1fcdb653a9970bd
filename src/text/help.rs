//! What can be said, by topic.

use super::style::{Ink, Page};
use std::io::{self, Write};

/// Writes help; without a topic the overview.
pub fn write(page: &mut Page<impl Write>, topic: Option<&str>) -> io::Result<()> {
    let Some(topic) = topic else {
        page.para(
            "The clock stands while you type. It runs while an order is carried out and when you wait; it never runs back. \
             Orders joined by ; are given at the same moment: hold breath; pace 180; unsheathe all. Places on the rail are \
             millimetres from the aortic valve.",
        )?;
        for (name, lines) in TOPICS {
            let first: Vec<&str> =
                lines.iter().map(|(say, _)| say.split_whitespace().next().unwrap_or("")).collect();
            page.hanging(Ink::Plain, &format!("  {name:<9} "), &unique(&first).join(", "))?;
        }
        return page.para("Say help and one of the topics on the left for examples, such as: help lines.");
    };
    let hits: Vec<_> = TOPICS.iter().filter(|(name, _)| name.starts_with(topic)).collect();
    if hits.is_empty() {
        let lines: Vec<_> =
            TOPICS.iter().flat_map(|(_, l)| l.iter()).filter(|(s, _)| s.starts_with(topic)).collect();
        if lines.is_empty() {
            let names: Vec<&str> = TOPICS.iter().map(|(n, _)| *n).collect();
            return page.warn(&format!("No help on \"{topic}\"; there is help on {}", names.join(", ")));
        }
        for (say, what) in lines {
            page.hanging(Ink::Plain, &format!("  {say:<44} "), what)?;
        }
    }
    for (name, lines) in hits {
        page.ink(Ink::Strong, name)?;
        for (say, what) in *lines {
            page.hanging(Ink::Plain, &format!("  {say:<44} "), what)?;
        }
    }
    Ok(())
}

/// How the order of a verb is said.
pub fn phrase(verb: &str) -> &'static str {
    PHRASES.iter().find(|(v, _)| *v == verb).map_or("", |(_, say)| say)
}

fn unique<'a>(words: &[&'a str]) -> Vec<&'a str> {
    let mut out: Vec<&str> = Vec::new();
    for w in words {
        if !out.contains(w) {
            out.push(w);
        }
    }
    out
}

type Topic = (&'static str, &'static [(&'static str, &'static str)]);

const TOPICS: &[Topic] = &[
    (
        "looking",
        &[
            ("look", "the scene: rail, C-arm, monitor, questions"),
            ("rail", "the ruler with all that lies on it"),
            ("lines", "what lies on each line, innermost first"),
            ("shelf 36", "the shelf; words narrow it: shelf graft, shelf wire"),
            ("orders", "what can be ordered now; +3 gives the third ready-made one"),
            ("questions", "who asks what; a number answers"),
            ("runs", "what each run showed"),
            ("labs", "laboratory results"),
            ("tally", "contrast, dose, fluids, blood"),
            ("story", "the call, the history, the CT as far as it was read"),
            ("why unsheathe", "what stands against an order now"),
        ],
    ),
    (
        "time",
        &[
            ("wait 2 min", "let time pass; a question stops it"),
            ("until something happens", "until something is seen or heard"),
            ("until done", "until every hand is free"),
            ("recover 24", "on the ward: hours"),
            ("quit", "stop; what you did is kept"),
            ("finish", "end the case here"),
        ],
    ),
    ("questions", &[("2", "option 2 of those shown"), ("answer pressure permissive", "the same by name")]),
    (
        "team",
        &[
            ("call anaesthetist", "somebody of the team"),
            ("brief all", "the team briefing; or: brief roles, pressure plan, blood"),
            ("note TEXT", "for the record"),
            (
                "hand over map 90 sbp 140 legs ct 48",
                "to the ward: least mean, highest systolic, legs each hour, CT after hours",
            ),
        ],
    ),
    (
        "picture",
        &[
            ("read ct whole", "from the neck to the groins; or: read ct chest"),
            ("measure proximal diameter 31", "commit a measurement; add axial, or on run, if it was"),
            ("aim lao 55 cra 10", "the C-arm; also: aim ap, aim lateral"),
            ("screen on", "fluoroscopy; screen off"),
            ("lock table", "and unlock table"),
            (
                "pan head 40 left 20",
                "move the table: where the picture goes, mm; marks and roadmap then lie wrong",
            ),
            ("field 22 cm", "size of the field; a smaller one magnifies"),
            ("collimate sides 20", "close the shutters, per cent; collimate open"),
            ("rate screening 7.5 runs 3", "pictures a second"),
            (
                "run 20 x 1.5 for 20 s held left",
                "20 mL/s during 1.5 s, pictures for 20 s, breath held, through the left line",
            ),
            ("mark proximal landing at 136", "a mark on the reference picture"),
        ],
    ),
    (
        "access",
        &[
            ("puncture right ultrasound", "right, left or arm; ultrasound, landmark or cut down"),
            ("close right sutures", "sutures, pressure or surgical"),
        ],
    ),
    (
        "lines",
        &[
            (
                "insert wire_j_180 right",
                "from the shelf to a line; the side may be left out where it is clear",
            ),
            ("advance wire_j_180 to 60", "a tip to a place on the rail; a graft: its first edge"),
            ("withdraw pigtail to 300", "the same, back"),
            ("exchange wire_j_180 for wire_aortic_260", "without losing the place"),
            ("remove sheath_8_11", "take it out"),
        ],
    ),
    (
        "graft",
        &[
            ("unsheathe 30", "draw the cover back by 30 mm; unsheathe all"),
            ("release tip", "let a held tip go"),
            ("inflate balloon_mould_46 with 16 mL", "in all"),
            ("deflate balloon", "empty it"),
            ("embolise left_subclavian with 1 plug_12", "from a catheter that lies there"),
        ],
    ),
    (
        "patient",
        &[
            ("keep systolic 80 to 100", "the anaesthetist keeps it; free pressure ends it"),
            ("give heparin 2000 IU", "a single dose"),
            ("infuse noradrenaline 0.1 ug/kg/min", "a running dose; stop noradrenaline"),
            ("transfuse red cells 600 mL over 15 min", "blood and fluids"),
            ("pace 180", "fast pacing; pace off"),
            ("hold breath", "and breathe"),
            ("anaesthesia local", "or another kind"),
            ("spinal drain 10", "open at 10 mmHg; spinal drain closed"),
            ("chest drain", "left"),
            ("warm", "patient and fluids"),
            ("lab lactate", "send a test"),
            ("bypass left subclavian", "surgically, to a branch"),
        ],
    ),
];

const PHRASES: &[(&str, &str)] = &[
    ("brief", "brief all"),
    ("call", "call ROLE"),
    ("note", "note TEXT"),
    ("read_ct", "read ct whole"),
    ("measure", "measure proximal diameter MM"),
    ("aim", "aim lao DEGREES cra DEGREES"),
    ("screen", "screen on"),
    ("lock_table", "lock table"),
    ("pan", "pan head MM left MM"),
    ("field", "field CM cm"),
    ("collimate", "collimate sides PERCENT"),
    ("frame_rate", "rate screening RATE runs RATE"),
    ("run", "run ML/S x SECONDS for SECONDS held"),
    ("mark", "mark proximal landing at MM"),
    ("puncture", "puncture right ultrasound"),
    ("close", "close right sutures"),
    ("insert", "insert DEVICE right"),
    ("move", "advance DEVICE to MM"),
    ("exchange", "exchange DEVICE for DEVICE"),
    ("remove", "remove DEVICE"),
    ("unsheathe", "unsheathe MM"),
    ("release_tip", "release tip"),
    ("inflate", "inflate DEVICE with ML"),
    ("deflate", "deflate balloon"),
    ("embolise", "embolise VESSEL with AMOUNT DEVICE"),
    ("stent_branch", "stent VESSEL with DEVICE"),
    ("give", "give DRUG DOSE"),
    ("infuse", "infuse DRUG RATE"),
    ("transfuse", "transfuse PRODUCT ML over TIME"),
    ("keep_systolic", "keep systolic LOW to HIGH"),
    ("free_systolic", "free pressure"),
    ("anaesthetise", "anaesthesia KIND"),
    ("csf_drain", "spinal drain MMHG [ML/H]"),
    ("lab", "lab TEST"),
    ("pace", "pace BPM"),
    ("breath_hold", "hold breath"),
    ("warm", "warm"),
    ("chest_drain", "chest drain"),
    ("open_belly", "open belly"),
    ("revascularise", "bypass VESSEL"),
    ("hand_over", "hand over map MMHG sbp MMHG legs ct HOURS"),
    ("recover", "recover HOURS"),
];
