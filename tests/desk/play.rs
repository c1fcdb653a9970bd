//! A good night through the window's panels: every order found by its label or given by the keyboard. The same orders given
//! straight to a session must make the same record, bit for bit.

use super::fixture::home;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use overwire::desk::settings::Settings;
use overwire::desk::{Desk, Options, Screen};
use overwire::records::library;
use overwire::scenario::{Loaded, Order};
use overwire::session::Session;
use overwire::session::event::{Giver, Tick};
use overwire::session::golden::Golden;
use overwire::session::log::Mode;
use overwire::session::player::Player;
use std::sync::Arc;
use std::sync::mpsc::{Sender, channel};

const CASE: &str = "descending_rupture";
const SEED: u64 = 1;

/// What a person at the desk would give for this order of a play: a reason and a certainty only where they are asked for.
fn as_asked(case: &Loaded, order: Order) -> Order {
    let Order::Answer { ask, option, why, sure_percent } = order else { return order };
    let spec = case.case.asks.iter().find(|a| a.id == ask).unwrap();
    let why = if spec.why { why } else { String::new() };
    // A person who leaves the scale alone leaves it in its middle.
    let sure_percent = spec.confidence.then(|| sure_percent.unwrap_or(75));
    Order::Answer { ask, option, why, sure_percent }
}

/// Who asks, as the desk says it.
fn said_by(who: &str) -> &str {
    if who == "narrator" { "What happens" } else { who }
}

/// The play, straight into a session, to its ending on the ward; every order is handed on with its time.
fn straight(case: Arc<Loaded>, given: &Sender<(Tick, Order)>) -> Session {
    let mut player = Player::named(&case, "model").unwrap();
    let mut session = Session::new(Arc::clone(&case), SEED, Mode::Free);
    while session.ended().is_none() {
        assert!(session.now().seconds() < 10.0 * 86_400.0, "the play comes to its ending");
        for order in player.poll(&session) {
            let order = as_asked(&case, order);
            given.send((session.now(), order.clone())).unwrap();
            session.order(Giver::Trainee, order).unwrap();
        }
        session.advance(1);
    }
    session
}

/// Somebody who sees nothing but labels and has nothing but a keyboard.
struct Hands<'a> {
    desk: Harness<'a, Desk>,
}

impl Hands<'_> {
    fn press(&mut self, label: &str) {
        self.desk.get_by_label(label).focus();
        self.desk.step();
        self.desk.key_press(egui::Key::Space);
        self.settle();
    }

    fn settle(&mut self) {
        self.desk.run_steps(2);
    }

    fn give(&mut self, order: &Order) {
        match order {
            Order::Answer { ask, option, why, sure_percent } => {
                self.answer(ask, option, why, *sure_percent);
            }
            Order::Move { site, device, to_mm } => self.advance(site.label(), device, *to_mm),
            other => self.order(other),
        }
    }

    fn answer(&mut self, ask: &str, option: &str, why: &str, sure_percent: Option<u8>) {
        let view = self.desk.state().seat().unwrap().view();
        let open = view.asks.iter().find(|a| a.id == ask).unwrap_or_else(|| panic!("{ask} is not asked"));
        let words = open.options.iter().find(|o| o.0 == option).unwrap().1.clone();
        // Of several questions one lies open.
        let folded = format!("{}: {}", said_by(&open.who), open.question);
        if self.desk.query_by_label(&words).is_none() {
            self.press(&folded);
        }
        self.press(&words);
        if !why.is_empty() {
            self.desk.get_by_label("Why?").focus();
            self.desk.step();
            self.desk.get_by_label("Why?").type_text(why);
            self.settle();
        }
        if let Some(sure) = sure_percent {
            self.desk.get_by_label("How sure are you? (50 % is a coin)").focus();
            // The arrows are the slider's once it has had the focus for a frame.
            self.settle();
            let steps = (i32::from(sure) - 75) / 5;
            let key = if steps < 0 { egui::Key::ArrowLeft } else { egui::Key::ArrowRight };
            (0..steps.abs()).for_each(|_| self.desk.key_press(key));
            self.settle();
        }
        if !why.is_empty() || sure_percent.is_some() {
            self.press("Commit");
        }
    }

    /// The tip's handle on the rail, the arrow keys, and Enter.
    fn advance(&mut self, site: &str, device: &str, to_mm: f64) {
        let view = self.desk.state().seat().unwrap().view();
        let items = view.rail.lines.iter().flat_map(|l| &l.items);
        let item = items.clone().find(|i| i.device == device).unwrap();
        let handle = format!("{site}, {}: tip at {:.0} mm", item.label, item.tip_mm);
        let by = to_mm as i64 - item.tip_mm.round() as i64;
        self.desk.get_by_label(&handle).focus();
        self.settle();
        let key = if by < 0 { egui::Key::ArrowLeft } else { egui::Key::ArrowRight };
        (0..by.abs() / 10).for_each(|_| self.desk.key_press_modifiers(egui::Modifiers::SHIFT, key));
        (0..by.abs() % 10).for_each(|_| self.desk.key_press(key));
        self.settle();
        self.desk.key_press(egui::Key::Enter);
        self.settle();
    }

    /// The list of orders: Ctrl+K, the order's name, Enter, and then its ready words or its own form.
    fn order(&mut self, order: &Order) {
        let view = self.desk.state().seat().unwrap().view();
        let offer = view.offers.iter().find(|o| o.verb == order.verb()).unwrap();
        let label = offer.label.clone();
        let ready = offer.ready.iter().find(|r| r.1 == *order).map(|r| r.0.clone());
        self.desk.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::K);
        self.settle();
        self.desk.get_by_label("Search the orders").type_text(&label);
        self.settle();
        self.desk.key_press(egui::Key::Enter);
        self.settle();
        if let (Order::Recover { hours }, None) = (order, &ready) {
            self.desk.get_by_label("how long").focus();
            self.settle();
            self.desk.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::A);
            self.desk.event(egui::Event::Text(hours.to_string()));
            self.settle();
            self.desk.key_press(egui::Key::Enter);
            self.settle();
        }
        self.press(ready.as_deref().unwrap_or("Order it"));
        self.desk.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::K);
        self.settle();
        self.desk.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::A);
        self.desk.key_press(egui::Key::Delete);
        self.settle();
    }
}

impl Hands<'_> {
    /// Lets the patient's time pass to `at`; on the ward it passes in long steps. False when the case has ended before.
    fn wait(&mut self, at: Tick) -> bool {
        let seat = self.desk.state_mut().seat_mut().unwrap();
        if !seat.on_ward() {
            seat.step(at.0 - seat.view().now.0);
        }
        while seat.keeper().session().now() < at && seat.view().ended.is_none() {
            seat.step(1);
        }
        if seat.on_ward() {
            self.desk.state_mut().turn_to(Screen::Recovery);
        }
        self.settle();
        self.desk.state().seat().unwrap().view().ended.is_none()
    }
}

/// From the call to the third day, and then the debrief.
#[test]
fn the_model_play_through_the_panels_makes_the_same_record() {
    let case = library::case(CASE).unwrap();
    let (send, given) = channel();
    let other = Arc::clone(&case);
    let direct = std::thread::spawn(move || straight(other, &send));

    let home = home("play");
    let options = Options {
        case: Some(CASE.into()),
        seed: SEED,
        log: Some(home.join("play.jsonl")),
        ..Options::default()
    };
    let mut desk = Desk::new(options, Settings { still: true, ..Settings::default() }).unwrap();
    desk.turn_to(Screen::Theatre);
    let harness = Harness::builder()
        .with_size(egui::vec2(1280.0, 800.0))
        .build_ui_state(|ui, desk: &mut Desk| desk.ui(ui), desk);
    let mut hands = Hands { desk: harness };
    hands.settle();
    let mut orders = 0;
    for (at, order) in given {
        assert!(hands.wait(at), "the case has ended before {order:?}");
        hands.give(&order);
        orders += 1;
    }
    let direct = direct.join().unwrap();
    assert!(!hands.wait(direct.now()), "it ends when the other ends");
    let seat = hands.desk.state().seat().unwrap();
    assert!(orders >= 35, "{orders} orders");
    let panels = seat.keeper().session();
    for (a, b) in panels.events().iter().zip(direct.events()) {
        assert_eq!(a, b, "the first event that differs: panels left, straight right");
    }
    assert_eq!(Golden::of(panels), Golden::of(&direct));
    assert_eq!(panels.ended().map(|e| &e.id), direct.ended().map(|e| &e.id));
    hands.desk.state_mut().turn_to(Screen::Debrief);
    hands.settle();
    let ending = direct.ended().unwrap().title.clone();
    assert!(hands.desk.query_all_by_label_contains(&ending).next().is_some(), "the debrief tells: {ending}");
    std::fs::remove_dir_all(&home).unwrap();
}
