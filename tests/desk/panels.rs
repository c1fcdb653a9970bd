//! Panels by label and by keyboard. What is expected of them is common practice of accessible programs (WAI-ARIA
//! Authoring Practices: every control has a name, Tab reaches it, Enter or Space presses it, arrows move a slider).

use super::fixture::{ask, look, rail, view};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use overwire::anatomy::Site;
use overwire::desk::carm::CarmPanel;
use overwire::desk::monitor::MonitorPanel;
use overwire::desk::orders::OrdersPanel;
use overwire::desk::question::QuestionPanel;
use overwire::desk::rail::RailPanel;
use overwire::desk::theme;
use overwire::scenario::Order;
use overwire::session::event::Tick;
use overwire::session::view::View;

/// A panel with the view that it shows and the orders that it gave.
struct Bench<P> {
    panel: P,
    view: View,
    given: Vec<Order>,
}

fn bench<P: Default + 'static>(
    view: View,
    show: fn(&mut P, &mut egui::Ui, &View) -> Vec<Order>,
) -> Harness<'static, Bench<P>> {
    let state = Bench { panel: P::default(), view, given: Vec::new() };
    let mut dressed = false;
    Harness::builder().with_size(egui::vec2(900.0, 700.0)).build_ui_state(
        move |ui, b: &mut Bench<P>| {
            if !dressed {
                theme::load_fonts(ui.ctx());
                theme::apply(
                    ui.ctx(),
                    &overwire::desk::settings::Settings { still: true, ..Default::default() },
                );
                dressed = true;
                // Fonts are there from the next frame on.
                return;
            }
            let given = show(&mut b.panel, ui, &b.view);
            b.given.extend(given);
        },
        state,
    )
}

#[test]
fn an_order_that_is_ready_takes_two_presses() {
    let mut h = bench(view(), |p: &mut OrdersPanel, ui, v| p.ui(ui, &look(), v));
    h.run();
    h.get_by_label("Chest drain").click();
    h.run();
    h.get_by_label("Chest drain, ready").click();
    h.run();
    assert_eq!(h.state().given, [Order::ChestDrain]);
}

#[test]
fn what_is_not_possible_says_why_and_gives_nothing() {
    let mut h = bench(view(), |p: &mut OrdersPanel, ui, v| p.ui(ui, &look(), v));
    h.run();
    h.get_by_label("Fill a balloon (not now: no balloon lies on a line)").click();
    h.run();
    let told = h.query_all_by_label_contains("no balloon lies on a line").count();
    assert_eq!(told, 2, "the row and, once it is opened, a line under it");
    assert!(h.state().given.is_empty());
}

#[test]
fn a_search_and_enter_open_the_order_without_a_mouse() {
    let mut h = bench(view(), |p: &mut OrdersPanel, ui, v| p.ui(ui, &look(), v));
    h.run();
    h.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::K);
    h.run();
    let search = h.get_by_label("Search the orders");
    assert!(search.is_focused());
    search.type_text("systolic");
    h.run();
    assert!(h.query_by_label("Chest drain").is_none(), "the search leaves only what has its words");
    h.key_press(egui::Key::Enter);
    h.run();
    h.get_by_label("Order it").click();
    h.run();
    assert_eq!(h.state().given, [Order::KeepSystolic { low_mmhg: 90.0, high_mmhg: 110.0 }]);
}

#[test]
fn a_tip_is_moved_by_the_keyboard_alone() {
    let mut h = bench(view(), |p: &mut RailPanel, ui, v| p.ui(ui, &look(), &v.rail));
    h.run();
    let tip = "right groin, stiff wire: tip at 40 mm";
    h.get_by_label(tip).focus();
    h.run();
    h.key_press(egui::Key::ArrowRight);
    h.key_press_modifiers(egui::Modifiers::SHIFT, egui::Key::ArrowRight);
    h.run();
    assert!(h.query_by_label("right groin, stiff wire: tip at 40 mm, to go to 51 mm").is_some());
    assert!(h.state().given.is_empty(), "nothing moves in the patient before it is advanced");
    h.get_by_label("Advance").click();
    h.run();
    let want = Order::Move { site: Site::RightFemoral, device: "stiff_wire".into(), to_mm: 51.0 };
    assert_eq!(h.state().given, [want]);
}

#[test]
fn a_tip_that_came_out_is_let_go() {
    let mut h = bench(view(), |p: &mut RailPanel, ui, v| p.ui(ui, &look(), &v.rail));
    h.run();
    h.get_by_label("right groin, sheath 22f: tip at 480 mm").click();
    h.run();
    assert!(h.query_by_label("Let go").is_some());
    h.state_mut().view.rail.lines[0].items.pop();
    h.run();
    assert!(h.query_by_label("Let go").is_none());
}

#[test]
fn the_rail_has_a_text_twin() {
    let twin = overwire::desk::say::rail(&rail(), look().words);
    for part in [
        "0 to 640 mm",
        "Zone 3: 128 to 150 mm",
        "Lesion rupture: 165 to 205 mm",
        "coeliac artery: 318 mm",
        "stiff wire to 40 mm",
    ] {
        assert!(twin.contains(part), "{part} in {twin}");
    }
}

#[test]
fn a_plain_question_is_answered_at_once_and_a_deep_one_after_why() {
    let show = |p: &mut QuestionPanel, ui: &mut egui::Ui, v: &View| p.ui(ui, &look(), &v.asks, Tick(0));
    let mut h = bench(View { asks: vec![ask(false)], ..view() }, show);
    h.run();
    h.get_by_label("80 to 100").click();
    h.run();
    let answer = |why: &str, sure_percent| Order::Answer {
        ask: "pressure".into(),
        option: "low".into(),
        why: why.into(),
        sure_percent,
    };
    assert_eq!(h.state().given, [answer("", None)]);

    let mut h = bench(View { asks: vec![ask(true)], ..view() }, show);
    h.run();
    h.get_by_label("80 to 100").click();
    h.run();
    assert!(h.state().given.is_empty(), "asked why first");
    let why = h.get_by_label("Why?");
    why.focus();
    h.run();
    h.get_by_label("Why?").type_text("it bleeds less");
    h.run();
    h.get_by_label("Commit").click();
    h.run();
    assert_eq!(h.state().given, [answer("it bleeds less", Some(75))]);
}

#[test]
fn the_c_arm_is_turned_only_when_asked() {
    let mut h = bench(view(), |p: &mut CarmPanel, ui, v| p.ui(ui, &look(), &v.carm, None));
    h.run();
    assert!(h.query_by_label_contains("C-arm: LAO 30°, CRA 0°").is_some(), "the figure says its pose");
    h.get_by_label("Screen").click();
    h.run();
    assert_eq!(h.state().given, [Order::Screen { on: true }]);
}

#[test]
fn the_monitor_says_its_numbers_and_alarms() {
    let mut v = view();
    v.vitals.heart_rate_bpm = 112.0;
    v.vitals.right_radial.systolic_mmhg = 58.0;
    v.vitals.right_radial.diastolic_mmhg = 41.0;
    v.alarms = vec![overwire::session::view::AlarmView { signal: "sbp", priority: 3, since: Tick(0) }];
    let mut h = bench(v, |p: &mut MonitorPanel, ui, v| {
        p.ui(ui, &look(), &v.vitals, &v.alarms);
        Vec::new()
    });
    h.run();
    assert!(h.query_by_label_contains("ECG II: 112").is_some());
    assert!(h.query_by_label_contains("radial right: 58/41").is_some());
    assert!(h.query_by_label_contains("Arterial pressure — high priority").is_some());
}

/// WCAG 2.1, 4.1.2: every control has a name.
#[test]
fn every_control_has_a_name() {
    fn walk(node: &egui_kittest::Node<'_>, nameless: &mut Vec<String>) {
        use egui::accesskit::Role;
        let n = node.accesskit_node();
        let control = matches!(
            n.role(),
            Role::Button
                | Role::CheckBox
                | Role::TextInput
                | Role::MultilineTextInput
                | Role::Slider
                | Role::SpinButton
                | Role::ComboBox
        );
        if control && n.label().unwrap_or_default().trim().is_empty() {
            nameless.push(format!("{:?} {:?}", n.role(), n.value()));
        }
        for child in node.children() {
            walk(&child, nameless);
        }
    }
    let mut nameless = Vec::new();
    let mut orders = bench(view(), |p: &mut OrdersPanel, ui, v| p.ui(ui, &look(), v));
    orders.run();
    orders.get_by_label("Keep the systolic between").click();
    orders.run();
    walk(&orders.root(), &mut nameless);
    let mut rail = bench(view(), |p: &mut RailPanel, ui, v| p.ui(ui, &look(), &v.rail));
    rail.run();
    rail.get_by_label("right groin, stiff wire: tip at 40 mm").click();
    rail.run();
    walk(&rail.root(), &mut nameless);
    let mut carm = bench(view(), |p: &mut CarmPanel, ui, v| p.ui(ui, &look(), &v.carm, None));
    carm.run();
    walk(&carm.root(), &mut nameless);
    assert!(nameless.is_empty(), "{nameless:#?}");
}
