//! The tutorial, followed to the letter in an empty folder: every command is run, every change is made, and what the page says
//! comes out. With OVERWIRE_PROGRAM set to a release build, as in CI, the slow commands of its last part are run too.

use std::path::Path;
use std::process::Command;

const PAGE: &str = include_str!("../../assets/tutorial/README.md");

/// The fenced blocks of the page: sort and text.
fn blocks() -> Vec<(&'static str, &'static str)> {
    let mut out = Vec::new();
    let mut rest = PAGE;
    while let Some((_, begun)) = rest.split_once("\n```") {
        let (sort, body) = begun.split_once('\n').unwrap();
        let (text, after) = body.split_once("```").unwrap();
        out.push((sort, text));
        rest = after;
    }
    out
}

#[test]
fn a_person_who_follows_it_has_a_working_case() {
    let release = std::env::var("OVERWIRE_PROGRAM").ok();
    let program = release.clone().unwrap_or_else(|| env!("CARGO_BIN_EXE_overwire").into());
    let folder = std::env::temp_dir().join(format!("overwire-tutorial-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let file = folder.join("night_call.ron");
    let (mut said, mut find, mut commands) = (String::new(), "", 0);
    for (sort, text) in blocks() {
        match sort {
            "sh" => {
                said.clear();
                for line in text.lines() {
                    let slow = line.contains("--plays") || line.contains(" sweep ");
                    if slow && release.is_none() {
                        continue;
                    }
                    said.push_str(&run(&program, &folder, line));
                    commands += 1;
                }
            }
            "out" => {
                for line in text.lines() {
                    assert!(said.contains(line), "\"{line}\" was promised; it said:\n{said}");
                }
            }
            "find" => find = text,
            "write" => {
                let now = std::fs::read_to_string(&file).unwrap();
                assert_eq!(now.matches(find).count(), 1, "this is not there, or more than once:\n{find}");
                std::fs::write(&file, now.replacen(find, text, 1)).unwrap();
            }
            other => panic!("a block of the sort {other}"),
        }
    }
    assert!(commands >= 8, "{commands}");
    let case = overwire::records::library::case(&file.display().to_string()).unwrap();
    let grafts = case.case.plays.iter().map(|p| p.name.as_str()).collect::<Vec<_>>();
    assert_eq!(grafts, ["model", "snug"]);
    let print = std::fs::read_to_string(folder.join("night_call.html")).unwrap();
    assert!(print.contains("Which graft shall I open?") && print.contains("A specialist must sign this off"));
    assert!(std::fs::read_to_string(folder.join("night_call.svg")).unwrap().starts_with("<svg"));
    std::fs::remove_dir_all(&folder).unwrap();
}

/// What a command says. One that finds something to tell exits with 1; none may fail to do its work.
fn run(program: &str, folder: &Path, line: &str) -> String {
    let mut words = line.split_whitespace();
    assert_eq!(words.next(), Some("overwire"), "{line}");
    let done = Command::new(program).args(words).current_dir(folder).output().unwrap();
    let said = [done.stdout, done.stderr].map(|b| String::from_utf8(b).unwrap()).concat();
    assert!(matches!(done.status.code(), Some(0 | 1)), "{line}\n{said}");
    said
}
