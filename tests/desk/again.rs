//! The debrief in the window: a session that has ended is watched once more, with the pictures of its log.

use super::fixture::home;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use overwire::assess::Judgement;
use overwire::debrief::fork::turnings;
use overwire::desk::settings::Settings;
use overwire::desk::{Desk, Options, Screen};
use overwire::records::keeper::read_log;
use overwire::scenario::Order;
use overwire::scenario::rule::Signals;
use overwire::session::event::{EventKind, Tick};
use overwire::session::log;
use overwire::session::player::Player;
use overwire::session::record::Record;

/// Steps through the decisions of a model play: the time, the monitor's numbers and the picture are those of the record then,
/// and the page that is written from here has every run in it.
#[test]
fn a_session_is_watched_again_with_its_pictures() {
    let home = home("again");
    let options = Options {
        case: Some("descending_rupture".into()),
        seed: 1,
        folder: Some(home.clone()),
        ..Options::default()
    };
    let mut desk = Desk::new(options, Settings { still: true, ..Settings::default() }).unwrap();
    let seat = desk.seat_mut().unwrap();
    let player = Player::named(seat.keeper().session().case(), "model").unwrap();
    seat.watch(player);
    // To the check run; days on the ward would show nothing that these minutes do not.
    while seat.view().runs.len() < 2 && seat.view().ended.is_none() {
        seat.step(10);
    }
    seat.unwatch();
    seat.give(vec![Order::Finish]);
    let record = Record::of(seat.keeper().session());
    assert!(record.ended().is_some());
    desk.turn_to(Screen::Debrief);
    let mut h = Harness::builder()
        .with_size(egui::vec2(1280.0, 1600.0))
        .build_ui_state(|ui, desk: &mut Desk| desk.ui(ui), desk);
    h.run_steps(4);
    // The log is played again beside the window's work.
    wait(&mut h);

    let runs: Vec<Tick> = times(&record, |k| matches!(k, EventKind::Ran(_)));
    let moments: Vec<Tick> =
        times(&record, |k| matches!(k, EventKind::Chosen { .. } | EventKind::Ran(_) | EventKind::Placed(_)));
    assert!(runs.len() >= 2);
    for at in &runs {
        h.get_by_label(&format!("Run {at}"));
    }
    press(&mut h, &format!("Run {}", runs[0]));
    h.get_by_label(&format!("Time since the call {}", runs[0]));
    let row = record.row_at(runs[0]).unwrap();
    let value = |name: &str| row.value(name).unwrap();
    let pressure =
        format!("Arterial pressure {:.0}/{:.0} ({:.0}) mmHg", value("sbp"), value("dbp"), value("map"));
    h.get_by_label(&pressure);
    // From the first run the next moment is the one that the record has next; and back again.
    let next = moments.iter().find(|t| **t > runs[0]).unwrap();
    press(&mut h, "Next moment");
    h.get_by_label(&format!("Time since the call {next}"));
    press(&mut h, "Back");
    h.get_by_label(&format!("Time since the call {}", runs[0]));
    let said = record.events.iter().find(|e| matches!(e.kind, EventKind::Ran(_))).unwrap();
    let said = record.words().tell(said).unwrap();
    assert!(h.query_all_by_label(&said).count() >= 1, "the picture says: {said}");

    let judged = Judgement::of_record(&record);
    // Another choice is played on from the log, and is the one that the command's page computes.
    let d = judged.decisions.iter().find(|d| !d.others.is_empty()).unwrap();
    h.query_all_by_label("What if …").next().unwrap().click_accesskit();
    h.run_steps(3);
    press(&mut h, &d.others[0].say);
    wait(&mut h);
    let lines =
        log::read(&read_log(h.state().seat().unwrap().keeper().path().unwrap()).unwrap()).unwrap().lines;
    let all = turnings(&lines).unwrap();
    let other = all.iter().find(|t| t.event == d.event).unwrap().take(&d.others[0].option).outlook;
    let said = other.ending.map_or("no ending by then".to_owned(), |e| format!("{} ({})", e.0, e.2));
    let shown = h.query_all_by_label_contains(&said).count();
    assert!(shown >= 1, "{said}");

    press(&mut h, "Write the whole debrief");
    let folder = std::fs::read_dir(&home).unwrap();
    let page =
        folder.filter_map(Result::ok).map(|f| f.path()).find(|p| p.extension().is_some_and(|e| e == "html"));
    let page = std::fs::read_to_string(page.expect("a page")).unwrap();
    assert_eq!(page.matches("<figure class=\"run\">").count(), runs.len());
    assert_eq!(
        page.matches("<image href=\"data:image/png").count(),
        runs.len(),
        "one on the axis for each run"
    );
    assert!(judged.decisions.len() >= 15 && page.contains("Played again from its log"));
    std::fs::remove_dir_all(&home).unwrap();
}

fn times(record: &Record, is: impl Fn(&EventKind) -> bool) -> Vec<Tick> {
    let end = record.theatre_end();
    record.events.iter().filter(|e| is(&e.kind) && e.at <= end).map(|e| e.at).collect()
}

fn wait(h: &mut Harness<'_, Desk>) {
    for _ in 0..4800 {
        if !h.state().drawing() {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(25));
        h.step();
    }
    assert!(!h.state().drawing(), "nothing came in two minutes");
    h.run_steps(2);
}

fn press(h: &mut Harness<'_, Desk>, label: &str) {
    h.get_by_label(label).click_accesskit();
    h.run_steps(3);
}
