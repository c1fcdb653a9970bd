//! Accesses and what is moved on them: exchange rules, and the hazards of what was done, from computed geometry and load.

use super::World;
use super::lines::{ItemState, Line};
use super::risk::Spot;
use super::torn::{self, Torn};
use crate::anatomy::Site;
use crate::kit::{CatheterTip, Device};
use crate::mechanics::hazard::closure;
use crate::mechanics::lines::outer_mm;
use crate::scenario::order::{Closure, Guide};
use crate::scenario::written;

/// Part of a sheath's hole that gapes when what should close it does not (assumed).
const GAPES: f64 = 0.06;

impl World {
    /// Why an order on a line cannot be given now.
    pub(super) fn line_refusal(&self, site: Site) -> Result<&Line, String> {
        match self.lines.get(&site) {
            None => Err(format!("there is no access at the {} yet: puncture it first", site.label())),
            Some(line) if line.closed => Err(format!("the access at the {} is closed", site.label())),
            Some(line) => Ok(line),
        }
    }

    /// Where the injector is connected: a run that is ordered from where nobody punctured goes through the flush catheter that lies
    /// elsewhere, when there is one and no other.
    pub(super) fn injected(&self, site: Site) -> Site {
        if self.lines.contains_key(&site) {
            return site;
        }
        let flushes = |line: &Line| {
            !line.closed
                && line.catheter(&self.case.shelf).is_some_and(|(_, c)| c.tip != CatheterTip::EndHole)
        };
        let mut others = self.lines.iter().filter(|(_, line)| flushes(line)).map(|(site, _)| *site);
        match (others.next(), others.next()) {
            (Some(only), None) => only,
            _ => site,
        }
    }

    /// The device of that id on a line.
    pub(super) fn on_line(&self, site: Site, device: &str) -> Result<&super::lines::Item, String> {
        let line = self.line_refusal(site)?;
        line.item(device).ok_or_else(|| {
            let there: Vec<&str> = line.items().iter().map(|i| i.device.as_str()).collect();
            let there = if there.is_empty() { "nothing".into() } else { there.join(", ") };
            format!("{device} does not lie on the line at the {}; there lies {there}", site.label())
        })
    }

    /// Can this device still be taken from the shelf and put on that line?
    pub(super) fn put_refusal(&self, site: Site, device: &str, without: Option<&str>) -> Option<String> {
        let Some(stocked) = self.case.shelf.get(device) else {
            return Some(format!("there is no \"{device}\" on the shelf"));
        };
        if self.left(device) == 0 {
            return Some(format!("the last {} is used", stocked.label));
        }
        let line = match self.line_refusal(site) {
            Ok(line) => line,
            Err(why) => return Some(why),
        };
        match without {
            None => line.cannot_put(&self.case.shelf, device),
            Some(out) => {
                let mut thinner = line.clone();
                thinner.take(out);
                thinner.cannot_put(&self.case.shelf, device)
            }
        }
    }

    pub(super) fn puncture(&mut self, site: Site, guide: Guide) -> String {
        let entry_mm = self.rail(site).map_or(0.0, |r| r.length_mm());
        self.lines.insert(site, Line::new(entry_mm, guide));
        written(&site)
    }

    pub(super) fn insert(&mut self, site: Site, device: &str, tip_mm: Option<f64>) {
        let case = std::sync::Arc::clone(&self.case);
        if let Some(n) = self.stock.get_mut(device) {
            *n = n.saturating_sub(1);
        }
        let Some(line) = self.lines.get_mut(&site) else { return };
        let entry = line.entry_mm;
        line.put(&case.shelf, device, tip_mm.unwrap_or(entry));
        let widest = case.shelf.get(device).map_or(0.0, |s| outer_mm(&s.device));
        self.face_access(site, widest);
    }

    /// Moves a tip; the hazards of the way are faced.
    pub(super) fn move_tip(&mut self, site: Site, device: &str, to_mm: f64) -> Result<(), String> {
        let case = std::sync::Arc::clone(&self.case);
        let to_mm = to_mm.clamp(0.0, self.rail(site).map_or(0.0, |r| r.length_mm()));
        let line = self.line_refusal(site)?;
        let item = self.on_line(site, device)?;
        let from_mm = item.tip_mm;
        let stocked = case.shelf.get(device).ok_or("it is not on the shelf")?;
        if let ItemState::Balloon { ml } = item.state
            && ml > 0.5
        {
            return Err("the balloon is up: let it down before it is moved".into());
        }
        if let ItemState::Graft { bared_mm, spent, .. } = item.state
            && bared_mm > 1.0
            && !spent
            && to_mm < from_mm
        {
            return Err(
                "a graft that is part open is never pushed forward; it can only be drawn back a little"
                    .into(),
            );
        }
        let wire_tip = line.wire(&case.shelf).map(|(i, _)| i.tip_mm);
        let follows_wire = !matches!(stocked.device, Device::Wire(_));
        if follows_wire && to_mm < from_mm {
            match wire_tip {
                None => {
                    return Err("nothing is advanced without a wire ahead of it: put a wire in first".into());
                }
                Some(w) if to_mm < w - 1.0 => {
                    return Err(format!(
                        "the wire ends at {w:.0} mm: advance the wire first, then this over it"
                    ));
                }
                Some(_) => {}
            }
        }
        if let Some(item) = self.lines.get_mut(&site).and_then(|l| l.item_mut(device)) {
            item.tip_mm = to_mm;
        }
        self.face_advance(site, device, from_mm, to_mm);
        Ok(())
    }

    /// Why `put` cannot take the place of `out`.
    pub(super) fn exchange_refusal(&self, site: Site, out: &str, put: &str) -> Option<String> {
        let line = self.line_refusal(site).err();
        if line.is_some() {
            return line;
        }
        let shelf = &self.case.shelf;
        let (Some(old), Some(new)) = (shelf.get(out), shelf.get(put)) else {
            return Some(format!("there is no \"{put}\" on the shelf"));
        };
        match (&old.device, &new.device) {
            // A wire is exchanged inside something that holds the way.
            (Device::Wire(_), Device::Wire(_)) => {
                let line = self.lines.get(&site)?;
                let held = line.catheter(shelf).is_some();
                if !held {
                    return Some("a wire is exchanged through a catheter, or the way is lost: bring a catheter over it first".into());
                }
            }
            (Device::Wire(_), _) | (_, Device::Wire(_)) => {
                return Some(
                    "a wire is exchanged for a wire, and what runs over it for what runs over it".into(),
                );
            }
            _ => {}
        }
        self.put_refusal(site, put, Some(out))
    }

    /// `put` takes the place of `out`: a wire lies where the catheter's tip holds the way, and what runs over a wire starts
    /// where its forerunner ended, or at the entry when it is stiffer than what can be brought up at once.
    pub(super) fn exchange(&mut self, site: Site, out: &str, put: &str) {
        let case = std::sync::Arc::clone(&self.case);
        let Some(line) = self.lines.get(&site) else { return };
        let (entry, old_tip) = (line.entry_mm, line.item(out).map_or(line.entry_mm, |i| i.tip_mm));
        let tip = match case.shelf.get(put).map(|s| &s.device) {
            Some(Device::Wire(_)) => line.catheter(&case.shelf).map_or(old_tip, |(i, _)| i.tip_mm),
            Some(Device::Catheter(_)) => old_tip,
            _ => entry,
        };
        self.take_out(site, out);
        self.insert(site, put, Some(tip));
    }

    pub(super) fn take_out(&mut self, site: Site, device: &str) {
        let Some(line) = self.lines.get_mut(&site) else { return };
        line.take(device);
    }

    /// Closes an access, or the puncture that sutures did not hold.
    pub(super) fn close(&mut self, site: Site, how: Closure) {
        let Some(line) = self.lines.get_mut(&site) else { return };
        let first = !line.closed;
        let wired = line.wire(&self.case.shelf).is_some();
        line.close();
        let widest_mm = line.widest_mm;
        match how {
            Closure::Sutures if first => self.face_closure(site, widest_mm, wired),
            Closure::Sutures => {}
            Closure::Pressure => self.press(site, widest_mm),
            Closure::Surgical => self.mend(&format!("puncture_{}", torn::side(site)), 0.0),
        }
    }

    /// Sutures hold or not; when they do not, part of the sheath's hole gapes. A wire that is drawn last lets another suture be laid on it.
    fn face_closure(&mut self, site: Site, widest_mm: f64, wired: bool) {
        let act_s = self.patient.lab(crate::circulation::Test::Act);
        let artery_mm = self.rail(site).map_or(7.0, |r| r.diameter_mm(&self.tree, r.length_mm() - 1.0));
        let hazard = closure(widest_mm, artery_mm, self.access_spec(site).calcium, wired, act_s);
        let area_mm2 = GAPES * 0.25 * std::f64::consts::PI * widest_mm * widest_mm;
        self.face_at(&hazard, &Spot::on(site, 0.0, area_mm2));
    }

    /// A hand presses for a quarter of an hour: clot holds what normal blood can clot. A large hole, or blood that does not clot,
    /// goes on bleeding (a hand closes up to about 8 Fr reliably; common practice, no source).
    fn press(&mut self, site: Site, widest_mm: f64) {
        let id = format!("puncture_{}", torn::side(site));
        let act = self.patient.lab(crate::circulation::Test::Act);
        let thin = ((act - 180.0) / 120.0).clamp(0.0, 1.0);
        let wide = (3.0 * widest_mm / 10.0 - 1.0).clamp(0.0, 1.0);
        let left = (thin + 0.5 * wide).min(1.0);
        if self.torn.iter().any(|t| t.id == id) {
            self.mend(&id, thin);
        } else if left > 0.0 && widest_mm > 0.0 {
            let area_mm2 = GAPES * 0.25 * std::f64::consts::PI * widest_mm * widest_mm;
            let tear = Torn { left, ..Torn::in_groin(self, site, area_mm2) };
            self.tear(tear);
        }
    }

    /// Leaves a part of a tear open.
    fn mend(&mut self, id: &str, left: f64) {
        if let Some(tear) = self.torn.iter_mut().find(|t| t.id == id) {
            tear.left = tear.left.min(left);
        }
        self.refresh_torn();
    }
}
