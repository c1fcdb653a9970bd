//! Orders reach the world here: first whether the state of things allows one, then its effect when hands have done it.

use super::World;
use super::earlier::SPARE_MM;
use super::lines::ItemState;
use super::patient::{in_rate_unit_of, in_unit_of};
use crate::anatomy::Site;
use crate::imaging::Shutter;
use crate::imaging::dose::Rates;
use crate::kit::{CatheterTip, Device, Graft, GraftKind, StentDrive};
use crate::scenario::order::{Closure, Plane};
use crate::scenario::range;
use crate::scenario::written;
use crate::scenario::{Loaded, Order};
use crate::session::event::Tick;

/// How far ahead of the hand a person comes or a result arrives, s: the laboratory's usual answer (common practice, no source).
const LAB_S: u64 = 300;

impl World {
    /// Why an order cannot be begun now, with what would do; none when it can.
    pub fn refusal(&self, case: &Loaded, order: &Order) -> Option<String> {
        if !self.patient.alive() && !matches!(order, Order::Note { .. } | Order::Finish) {
            return Some("the patient has died".into());
        }
        if self.on_ward && ward_cannot(order) {
            return Some("the patient is on the ward: that is done in the theatre".into());
        }
        if let Some(why) = range::refusal(order) {
            return Some(why);
        }
        match order {
            Order::Call { who } => {
                let Some(member) = case.case.team.iter().find(|m| m.role == *who) else {
                    let roles: Vec<&str> = case.case.team.iter().map(|m| m.role.as_str()).collect();
                    return Some(format!("there is no {who} to call; there are: {}", roles.join(", ")));
                };
                if member.arrives.is_none() {
                    return Some(format!("the {who} is here already"));
                }
                self.calls.iter().any(|c| c.1 == *who).then(|| format!("the {who} has been called already"))
            }
            Order::Measure { plane, run, .. } => {
                if *plane == Plane::Run {
                    let taken = self.picture.runs.len() as u32;
                    if taken == 0 {
                        return Some("no run has been taken yet".into());
                    }
                    if let Some(run) = run.filter(|r| !(1..=taken).contains(r)) {
                        return Some(format!("there is no run {run}; the newest is run {taken}"));
                    }
                } else if self.ct.is_none() {
                    return Some("no CT has been read yet".into());
                }
                None
            }
            Order::Puncture { site, .. } => {
                let open = self.lines.get(site).is_some_and(|l| !l.closed);
                open.then(|| format!("the {} is open already", site.label()))
            }
            Order::Insert { site, device } => self.put_refusal(*site, device, None),
            Order::Exchange { site, out, put } => {
                if let Err(why) = self.on_line(*site, out) {
                    return Some(why);
                }
                self.exchange_refusal(*site, out, put)
            }
            Order::Move { site, device, .. } => {
                self.on_line(*site, device).err().or_else(|| self.gate_refusal(order))
            }
            Order::Remove { site, device } => self.on_line(*site, device).err(),
            Order::Pan { left_mm, head_mm } => self.picture.pan_refusal(*left_mm, *head_mm),
            Order::Run { site, rate_ml_s, .. } => {
                let line = match self.line_refusal(self.injected(*site)) {
                    Ok(line) => line,
                    Err(why) => return Some(why),
                };
                let Some((_, catheter)) = line.catheter(&case.shelf) else {
                    return Some("a run needs a catheter to inject through: put one on the line".into());
                };
                if catheter.tip == CatheterTip::EndHole && *rate_ml_s > 6.0 {
                    return Some(
                        "an end-hole catheter is never power-injected (its jet can dissect): at most 6 mL/s by hand, or change to a flush catheter".into(),
                    );
                }
                (*rate_ml_s > catheter.max_flow_ml_s).then(|| {
                    format!(
                        "this catheter passes {:.0} mL/s at its pressure limit: lower the rate",
                        catheter.max_flow_ml_s
                    )
                })
            }
            Order::Mark { at_mm, .. } => {
                let end = self.rail(Site::RightFemoral).map_or(0.0, |r| r.length_mm());
                (!(0.0..=end).contains(at_mm)).then(|| format!("the rail runs from 0 to {end:.0} mm"))
            }
            Order::Unsheathe { site, .. } => {
                let line = match self.line_refusal(*site) {
                    Ok(line) => line,
                    Err(why) => return Some(why),
                };
                if let Some((_, _, stent)) = self.loaded_stent(*site) {
                    return self.stent_refusal(*site, &stent, StentDrive::SelfExpanding);
                }
                let Some((item, graft)) = line.loaded_graft(&case.shelf) else {
                    return Some("no loaded graft or stent lies on this line".into());
                };
                if let Some(why) = self.lower_end_refusal(*site, item.tip_mm, graft) {
                    return Some(why);
                }
                self.gate_refusal(order)
            }
            Order::ReleaseTip { site } => {
                let line = match self.line_refusal(*site) {
                    Ok(line) => line,
                    Err(why) => return Some(why),
                };
                match line.loaded_graft(&case.shelf).map(|(i, _)| i.state) {
                    Some(ItemState::Graft { tip_held: true, .. }) => None,
                    Some(_) => Some("this graft has no captured tip".into()),
                    None => Some("no loaded graft lies on this line".into()),
                }
            }
            Order::Inflate { site, device, ml } => {
                match self.on_line(*site, device) {
                    Err(why) => return Some(why),
                    Ok(item) if item.state == ItemState::Plain => {
                        return Some("it has burst: take it out".into());
                    }
                    Ok(_) => {}
                }
                if let Some(Device::Stent(stent)) = case.shelf.get(device).map(|s| &s.device) {
                    if self.loaded_stent(*site).is_none() {
                        return Some("it is open already".into());
                    }
                    return self.stent_refusal(*site, stent, StentDrive::Balloon);
                }
                let Some(Device::Balloon(b)) = case.shelf.get(device).map(|s| &s.device) else {
                    return Some(format!("{device} is no balloon"));
                };
                // A hand can push well past the printed volume; it bursts or tears then.
                (!(0.0..=b.max_ml * 1.6).contains(ml)).then(|| {
                    format!(
                        "the syringe holds {:.0} mL; the balloon is made for {:.0} mL",
                        b.max_ml * 1.6,
                        b.max_ml
                    )
                })
            }
            Order::Deflate { site, device } => self.on_line(*site, device).err(),
            Order::Embolise { site, device, .. } => {
                let line = match self.line_refusal(*site) {
                    Ok(line) => line,
                    Err(why) => return Some(why),
                };
                if line.catheter(&case.shelf).is_none() {
                    return Some("embolics go through a catheter: put one on the line".into());
                }
                (self.left(device) == 0).then(|| format!("there is no {device} left"))
            }
            Order::StentBranch { site, device, vessel } => self.mouth_refusal(*site, device, *vessel),
            Order::Give { drug, dose } => in_unit_of(*drug, dose, case.case.patient.mass_kg).err(),
            Order::Infuse { drug, rate } => in_rate_unit_of(*drug, rate, case.case.patient.mass_kg).err(),
            Order::KeepSystolic { low_mmhg, high_mmhg } => {
                (*low_mmhg + 5.0 > *high_mmhg).then(|| "write a band of pressure at least 5 mmHg wide".into())
            }
            Order::Close { site, how } => match self.line_refusal(*site) {
                Err(_) if self.bleeds_at(*site) => (*how == Closure::Sutures)
                    .then(|| "the sutures did not hold: press, or close surgically".into()),
                Err(why) => Some(why),
                Ok(line)
                    if *how == Closure::Sutures
                        && line.guide != crate::scenario::order::Guide::Ultrasound =>
                {
                    Some("no closure sutures were placed at the puncture: press, or close surgically".into())
                }
                Ok(_) => None,
            },
            Order::HandOver { .. } => {
                if self.lines.values().any(|l| !l.closed) {
                    return Some("an access is still open: close it first".into());
                }
                self.on_ward.then(|| "the patient was handed over already".into())
            }
            Order::Recover { .. } => {
                (!self.on_ward).then(|| "the patient is not on the ward yet: hand over first".into())
            }
            _ => None,
        }
    }

    /// Carries out an order when hands are done with it. Returns what it was done to.
    ///
    /// # Errors
    /// Why it could not be done after all: the world has gone on since it was ordered.
    pub fn carry_out(&mut self, case: &Loaded, now: Tick, order: &Order) -> Result<String, String> {
        if let Some(why) = self.refusal(case, order) {
            return Err(why);
        }
        self.now = now;
        let mut to = String::new();
        let reference = self.picture.reference_true();
        match order {
            Order::Answer { .. } | Order::Note { .. } | Order::Finish => {}
            Order::Brief { items } => {
                for item in items {
                    if !self.briefed.contains(item) {
                        self.briefed.push(*item);
                    }
                }
            }
            Order::Call { who } => {
                to.clone_from(who);
                let member = case.case.team.iter().find(|m| m.role == *who);
                let span = member.and_then(|m| m.arrives).unwrap_or_default();
                self.calls.push((now.after(Tick::from_ms(span.ms).0), who.clone(), false));
            }
            Order::ReadCt { extent } => {
                self.ct = self.ct.max(Some(*extent));
                self.tell_ct(*extent);
            }
            Order::Measure { what, mm, plane, .. } => {
                self.measured.insert(*what, (*mm, *plane));
                to = what.id().into();
            }
            Order::Puncture { site, guide } => to = self.puncture(*site, *guide),
            Order::Insert { site, device } => {
                self.insert(*site, device, None);
                to.clone_from(device);
            }
            Order::Move { site, device, to_mm } => {
                let seeker = self.clone_seek(order);
                self.move_tip(*site, device, *to_mm)?;
                self.note_through(seeker);
                to.clone_from(device);
            }
            Order::Exchange { site, out, put } => {
                self.exchange(*site, out, put);
                to.clone_from(put);
            }
            Order::Remove { site, device } => {
                self.take_out(*site, device);
                to.clone_from(device);
            }
            Order::Aim { primary_deg, secondary_deg } => self.picture.aim(*primary_deg, *secondary_deg),
            Order::Screen { on } => self.picture.screening = *on,
            Order::LockTable { on } => self.picture.table_locked = *on,
            Order::Pan { left_mm, head_mm } => self.picture.pan(*left_mm, *head_mm),
            Order::Field { edge_mm } => self.picture.pose.field_mm = *edge_mm,
            Order::Collimate { left_percent, right_percent, top_percent, bottom_percent } => {
                self.picture.pose.shutter = Shutter {
                    left: left_percent / 100.0,
                    right: right_percent / 100.0,
                    top: top_percent / 100.0,
                    bottom: bottom_percent / 100.0,
                };
            }
            Order::FrameRate { screening_per_s, runs_per_s } => {
                self.picture.dose.rates =
                    Rates { screening_per_s: *screening_per_s, runs_per_s: *runs_per_s };
            }
            Order::Run { site, rate_ml_s, volume_ml, seconds, breath_hold } => {
                self.run(self.injected(*site), *rate_ml_s, *volume_ml, *seconds, *breath_hold)?;
            }
            Order::Mark { name, at_mm } => {
                to = name.id().into();
                self.mark(*name, *at_mm);
            }
            Order::Unsheathe { site, .. } if self.loaded_stent(*site).is_some() => {
                to = self.open_stent(*site, None)?;
            }
            Order::Unsheathe { site, by_mm } => to = self.unsheathe(*site, *by_mm)?,
            Order::ReleaseTip { site } => to = self.release_tip(*site)?,
            Order::Inflate { site, device, ml }
                if matches!(case.shelf.get(device).map(|s| &s.device), Some(Device::Stent(_))) =>
            {
                to = self.open_stent(*site, Some(*ml))?;
            }
            Order::Inflate { site, device, ml } => {
                self.inflate(*site, device, *ml)?;
                to.clone_from(device);
            }
            Order::Deflate { site, device } => {
                self.deflate(*site, device);
                to.clone_from(device);
            }
            Order::Embolise { site, device, vessel, amount } => {
                self.embolise(*site, device, *vessel, *amount)?;
                to = written(vessel);
            }
            Order::StentBranch { device, vessel, .. } => {
                self.stent_branch(device, *vessel)?;
                to = written(vessel);
            }
            Order::Give { drug, dose } => {
                self.give(*drug, dose)?;
                to = written(drug);
            }
            Order::Infuse { drug, rate } => {
                self.infuse(*drug, rate)?;
                to = written(drug);
            }
            Order::Transfuse { product, ml, over } => {
                self.hang(*product, *ml, *over);
                to = written(product);
            }
            Order::KeepSystolic { low_mmhg, high_mmhg } => self.keep(Some((*low_mmhg, *high_mmhg)), None),
            Order::FreeSystolic => self.keep(None, None),
            Order::Pace { bpm } => {
                self.pacing = *bpm;
                self.patient.set_pacing(*bpm);
            }
            Order::BreathHold { on } => {
                self.breath_held = *on;
                self.patient.set_breath_hold(*on);
            }
            Order::Anaesthetise { kind } => {
                self.asleep = matches!(kind, crate::circulation::Anaesthesia::General(_));
                self.patient.set_anaesthesia(*kind);
            }
            Order::CsfDrain { at_mmhg, most_ml_h } => {
                self.spinal_drain_in |= at_mmhg.is_some();
                self.patient.set_csf_drain(*at_mmhg, *most_ml_h);
            }
            Order::ChestDrain => self.patient.drain_space(crate::circulation::Space::LeftPleura),
            Order::OpenBelly => self.patient.open_belly(),
            Order::Warm { on } => self.patient.set_warming(*on),
            Order::Lab { test } => {
                to = written(test);
                self.labs.push((now.after(LAB_S * Tick::PER_SECOND), *test));
            }
            Order::Revascularise { vessel } => {
                self.bypass(*vessel);
                to = written(vessel);
            }
            Order::Close { site, how } => {
                self.close(*site, *how);
                to = written(site);
            }
            Order::HandOver { .. } => self.hand_over(order),
            Order::Recover { hours } => self.ward_left_s += hours * 3600.0,
        }
        self.refresh_torn();
        self.tell_reference(reference);
        Ok(to)
    }
}

impl World {
    /// Why a graft cannot be let go where its lower end lies. What is made for the chest ends in the aorta; its release may still push it
    /// down a little. What is made for the belly ends in an iliac artery.
    fn lower_end_refusal(&self, site: Site, tip_mm: f64, graft: &Graft) -> Option<String> {
        let aorta_mm = self.aorta_mm();
        let lower_mm = tip_mm + graft.length_mm;
        match graft.kind {
            GraftKind::ThoracicTube | GraftKind::Cuff => (lower_mm > aorta_mm - SPARE_MM)
                .then(|| "its lower end still lies in the iliac artery: advance it first".into()),
            GraftKind::BifurcatedBody { gate_at_mm, .. } if tip_mm + gate_at_mm > aorta_mm => {
                Some("its short leg would open inside the iliac artery: advance it first".into())
            }
            GraftKind::Limb if !self.seal.pieces.iter().any(|p| takes_legs(&p.placed.graft)) => {
                Some("a leg belongs into a body: there is none".into())
            }
            _ => {
                let end_mm = self.rail(site).map_or(aorta_mm, |r| r.length_mm()) - SPARE_MM;
                (lower_mm > end_mm)
                    .then(|| "its lower end still lies outside the artery: advance it first".into())
            }
        }
    }
}

fn takes_legs(graft: &Graft) -> bool {
    matches!(graft.kind, GraftKind::BifurcatedBody { .. } | GraftKind::AortoUniIliac | GraftKind::Limb)
}

/// What only a theatre can do.
fn ward_cannot(order: &Order) -> bool {
    matches!(
        order,
        Order::Puncture { .. }
            | Order::Insert { .. }
            | Order::Move { .. }
            | Order::Exchange { .. }
            | Order::Run { .. }
            | Order::Pan { .. }
            | Order::Field { .. }
            | Order::Collimate { .. }
            | Order::FrameRate { .. }
            | Order::Unsheathe { .. }
            | Order::Inflate { .. }
            | Order::Embolise { .. }
            | Order::StentBranch { .. }
            | Order::Pace { .. }
    )
}
