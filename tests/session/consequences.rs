//! A choice changes what comes out through the models: the same night with one thing changed.

use super::{asked, case, greatest, last, placed, play, variant};

/// The model night up to the hand-over: graft in, pressure back, completion run seen, groins closed.
fn until_handover(steps: &str) -> overwire::session::Session {
    play(&case(), variant(steps), |s| asked(s, "handover"))
}

/// Four millimetres too small: the gap is computed, the flow through it is computed, and nothing is sealed. Oversizing below
/// about 10 % is known to leak (Sher and Tadros 2017; the size of the flow has no source, its direction has).
#[test]
fn four_millimetres_too_small_leaks() {
    let right = until_handover("");
    let small = until_handover(
        r#"(label: "graft", asked: "graft", after: "10 s", orders: [answer(ask: "graft", option: "t32", why: "")]),
           (label: "advance", orders: [move(site: right_femoral, device: "taper_32_28_150", to_mm: 136)]),
           (label: "withdraw", asked: "withdraw", after: "5 s", orders: [answer(ask: "withdraw", option: "wire_stays", why: ""), remove(site: right_femoral, device: "taper_32_28_150")]),"#,
    );
    let (a, b) = (placed(&right), placed(&small));
    assert!(a.oversize_percent[0] - b.oversize_percent[0] > 8.0, "{a:?} {b:?}");
    assert!(
        last(&right, "leak") < 20.0,
        "the right graft seeps by its fresh films only: {}",
        last(&right, "leak")
    );
    assert_eq!(last(&small, "sealed"), 0.0, "the small one does not");
    let leak = last(&small, "leak");
    assert!(leak > 15.0 && leak > 5.0 * last(&right, "leak"), "leak {leak} against {}", last(&right, "leak"));
    assert!(last(&small, "oversize.proximal") < 5.0, "filled again, nothing is left of the oversizing");
    assert!(last(&small, "bleed") > 3.0 * last(&right, "bleed"), "the leak feeds the bleed");
}

/// The same graft, let go 20 mm lower, lies over the coeliac artery, and its flow falls to what collaterals bring.
#[test]
fn twenty_millimetres_lower_covers_the_coeliac() {
    let long = |to_mm: u32| {
        format!(
            r#"(label: "graft", asked: "graft", after: "10 s", orders: [answer(ask: "graft", option: "t36_200", why: "")]),
               (label: "advance", orders: [move(site: right_femoral, device: "taper_36_32_200", to_mm: {to_mm})]),
               (label: "withdraw", asked: "withdraw", after: "5 s", orders: [answer(ask: "withdraw", option: "wire_stays", why: ""), remove(site: right_femoral, device: "taper_36_32_200")]),"#
        )
    };
    let high = until_handover(&long(136));
    let low = until_handover(&long(156));
    assert!(last(&high, "covered.coeliac") < 5.0, "{:?}", placed(&high));
    assert!(last(&low, "covered.coeliac") > 80.0, "{:?}", placed(&low));
    assert!(last(&low, "flow.coeliac") < 0.5 * last(&high, "flow.coeliac"));
}

/// More pressure on an open tear loses more blood (orifice flow grows with the root of the pressure).
#[test]
fn pressure_on_an_open_tear_costs_blood() {
    let until_access = |steps: &str| play(&case(), variant(steps), |s| asked(s, "puncture"));
    let soft = until_access("");
    let hard = until_access(
        r#"(label: "pressure", asked: "pressure", after: "15 s", orders: [answer(ask: "pressure", option: "normal", why: "")]),"#,
    );
    assert!(greatest(&hard, "lost") > greatest(&soft, "lost") + 50.0);
}
