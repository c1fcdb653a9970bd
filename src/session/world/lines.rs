//! The lines: what lies on each access, and where.

use crate::anatomy::Site;
use crate::kit::{Device, Shelf};
use crate::mechanics::lines::{Laid, Stack, Warning, outer_mm};
use crate::mechanics::{Corridor, RodShape};
use crate::scenario::order::Guide;
use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

/// A device on a line.
#[derive(Clone, Debug, PartialEq)]
pub struct Item {
    /// Shelf id.
    pub device: String,
    /// Where its tip lies, mm from the valve along the rail. A graft: the first edge of its fabric.
    pub tip_mm: f64,
    /// What is special about it.
    pub state: ItemState,
}

/// What is special about a device on a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ItemState {
    /// Nothing.
    Plain,
    /// A loaded graft: how much is unsheathed, mm; is its tip still held; has it been let go?
    Graft {
        /// Unsheathed, mm.
        bared_mm: f64,
        /// Captured tip still held.
        tip_held: bool,
        /// Released: only the empty delivery system is left.
        spent: bool,
    },
    /// A balloon with so much in it, mL.
    Balloon {
        /// Volume, mL.
        ml: f64,
    },
}

/// How everything on a line lies together, and what it lies in; none when nothing is a rod.
pub type Lie = Option<Arc<(Arc<Corridor>, RodShape)>>;

/// The way in from each site, cut from the vessels when first asked for. Clones of a session share what one of them has cut.
#[derive(Clone, Debug, Default)]
pub struct Corridors(Arc<[OnceLock<Option<Arc<Corridor>>>; Site::ALL.len()]>);

impl Corridors {
    /// The way in from a site: `cut` is asked once.
    pub fn get(&self, site: Site, cut: impl FnOnce() -> Option<Corridor>) -> Option<Arc<Corridor>> {
        self.0[site as usize].get_or_init(|| cut().map(Arc::new)).clone()
    }
}

/// One access with what lies on it.
#[derive(Clone, Debug)]
pub struct Line {
    /// Where its entry lies on the rail, mm.
    pub entry_mm: f64,
    /// How it was opened.
    pub guide: Guide,
    /// Closed again?
    pub closed: bool,
    /// Innermost first: wires, then what runs over them.
    items: Vec<Item>,
    /// Solved when first asked for; every change of the items forgets it, and nothing else has a say in it.
    lie: OnceLock<Lie>,
    /// Narrowest diameter of its way to the aorta, mm; measured when first asked for.
    pub narrowest_mm: OnceLock<f64>,
    /// Widest outer diameter that has passed the entry, mm.
    pub widest_mm: f64,
    /// Widest outer diameter whose way through the artery has been faced, mm.
    pub passed_mm: f64,
}

/// All accesses.
pub type Lines = BTreeMap<Site, Line>;

/// Rank in a stack: what lies inside what.
fn rank(device: &Device) -> u8 {
    match device {
        Device::Wire(_) => 0,
        Device::Coil(_) | Device::Plug(_) | Device::Particles(_) => 1,
        Device::Catheter(_) => 2,
        Device::Balloon(_) | Device::Graft(_) | Device::Stent(_) => 3,
        Device::Sheath(_) => 4,
        Device::Closure(_) => 5,
    }
}

impl Line {
    /// An access just opened.
    pub fn new(entry_mm: f64, guide: Guide) -> Self {
        Self {
            entry_mm,
            guide,
            closed: false,
            items: Vec::new(),
            lie: OnceLock::new(),
            narrowest_mm: OnceLock::new(),
            widest_mm: 0.0,
            passed_mm: 0.0,
        }
    }

    /// Innermost first: wires, then what runs over them.
    pub fn items(&self) -> &[Item] {
        &self.items
    }

    /// The items, to change.
    fn items_mut(&mut self) -> &mut Vec<Item> {
        self.lie = OnceLock::new();
        &mut self.items
    }

    /// How everything on it lies together: `solve` is asked once after each change of the items.
    pub fn lie(&self, solve: impl FnOnce() -> Lie) -> &Lie {
        self.lie.get_or_init(solve)
    }

    /// The device of that id on this line.
    pub fn item(&self, device: &str) -> Option<&Item> {
        self.items.iter().find(|i| i.device == device)
    }

    /// The same, to change.
    pub fn item_mut(&mut self, device: &str) -> Option<&mut Item> {
        self.items_mut().iter_mut().find(|i| i.device == device)
    }

    /// Puts a device in its rank's place, its tip at the entry.
    pub fn put(&mut self, shelf: &Shelf, device: &str, tip_mm: f64) {
        let Some(stocked) = shelf.get(device) else { return };
        let state = match &stocked.device {
            Device::Graft(g) => ItemState::Graft { bared_mm: 0.0, tip_held: g.tip_capture, spent: false },
            Device::Stent(_) => ItemState::Graft { bared_mm: 0.0, tip_held: false, spent: false },
            Device::Balloon(_) => ItemState::Balloon { ml: 0.0 },
            _ => ItemState::Plain,
        };
        self.widest_mm = self.widest_mm.max(outer_mm(&stocked.device));
        let mine = rank(&stocked.device);
        let place =
            self.items.iter().position(|i| shelf.get(&i.device).is_some_and(|s| rank(&s.device) > mine));
        let item = Item { device: device.into(), tip_mm, state };
        match place {
            Some(i) => self.items_mut().insert(i, item),
            None => self.items_mut().push(item),
        }
    }

    /// Takes a device off.
    pub fn take(&mut self, device: &str) {
        self.items_mut().retain(|i| i.device != device);
    }

    /// Everything out, and the artery closed.
    pub fn close(&mut self) {
        self.items_mut().clear();
        self.closed = true;
    }

    /// The innermost wire.
    pub fn wire<'a>(&'a self, shelf: &'a Shelf) -> Option<(&'a Item, &'a crate::kit::Wire)> {
        self.items.iter().find_map(|i| match &shelf.get(&i.device)?.device {
            Device::Wire(w) => Some((i, w)),
            _ => None,
        })
    }

    /// The catheter, if there is one.
    pub fn catheter<'a>(&'a self, shelf: &'a Shelf) -> Option<(&'a Item, &'a crate::kit::Catheter)> {
        self.items.iter().find_map(|i| match &shelf.get(&i.device)?.device {
            Device::Catheter(c) => Some((i, c)),
            _ => None,
        })
    }

    /// A sheath, if there is one.
    pub fn sheath<'a>(&'a self, shelf: &'a Shelf) -> Option<&'a crate::kit::Sheath> {
        self.items.iter().find_map(|i| match &shelf.get(&i.device)?.device {
            Device::Sheath(s) => Some(s),
            _ => None,
        })
    }

    /// A graft that has not been let go.
    pub fn loaded_graft<'a>(&'a self, shelf: &'a Shelf) -> Option<(&'a Item, &'a crate::kit::Graft)> {
        self.items.iter().find_map(|i| match (&shelf.get(&i.device)?.device, i.state) {
            (Device::Graft(g), ItemState::Graft { spent: false, .. }) => Some((i, g)),
            _ => None,
        })
    }

    /// The furthest reach of anything that covers the wire, mm from the valve (the smallest tip among them).
    pub fn cover_mm(&self, shelf: &Shelf) -> f64 {
        let covers = self.items.iter().filter(|i| shelf.get(&i.device).is_some_and(|s| rank(&s.device) >= 2));
        covers.map(|i| i.tip_mm).fold(self.entry_mm, f64::min)
    }

    /// What lies on it, as rods and bores.
    pub fn stack<'a>(&self, shelf: &'a Shelf) -> Stack<'a> {
        let items = self.items.iter().filter_map(|item| {
            let stocked = shelf.get(&item.device)?;
            let inserted_mm = (self.entry_mm - item.tip_mm).max(0.0);
            Some(Laid { label: &stocked.label, device: &stocked.device, inserted_mm })
        });
        Stack { items: items.collect() }
    }

    /// Why a device cannot be put on this line now; none when it can.
    pub fn cannot_put(&self, shelf: &Shelf, device: &str) -> Option<String> {
        let stocked = shelf.get(device)?;
        match &stocked.device {
            _ if self.item(device).is_some() => Some(format!("{} lies on this line already", stocked.label)),
            Device::Closure(_) => Some("closure is part of closing the access: order that".into()),
            Device::Coil(_) | Device::Plug(_) | Device::Particles(_) => {
                Some("embolics go through a catheter: order to embolise".into())
            }
            new => match self.stack(shelf).may_take(new) {
                Err(refusal) => Some(refusal.0),
                // What a hand could push in blindly is not ordered here.
                Ok(warnings) if warnings.contains(&Warning::NoWireAhead) => {
                    Some("nothing goes in without a wire to lead it: put a wire in first".into())
                }
                Ok(_) => None,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::Cell;

    /// The rods are solved once, and again after every change of what lies on the line and after no reading of it.
    #[test]
    fn a_lie_is_solved_once_for_each_change() {
        let shelf = Shelf::generic();
        let wire = shelf.items.iter().find(|s| matches!(s.device, Device::Wire(_))).unwrap();
        let mut line = Line::new(500.0, Guide::Ultrasound);
        let solved = Cell::new(0);
        let ask = |line: &Line| {
            line.lie(|| {
                solved.set(solved.get() + 1);
                None
            })
            .is_none()
        };
        assert!(ask(&line) && ask(&line) && line.item("x").is_none() && ask(&line));
        assert_eq!(solved.get(), 1);
        line.put(&shelf, &wire.id, 400.0);
        assert!(ask(&line) && ask(&line.clone()));
        assert_eq!(solved.get(), 2);
        line.item_mut(&wire.id).unwrap().tip_mm = 300.0;
        assert!(ask(&line));
        line.take(&wire.id);
        assert!(ask(&line));
        line.close();
        assert!(ask(&line));
        assert_eq!(solved.get(), 5);
    }
}
