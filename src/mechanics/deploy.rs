//! Unsheathing: from a loaded delivery system to a graft that lies where it lies.
//!
//! While the graft is open above and still closed below it is a bag in the stream. The drop of pressure across it pushes
//! it downstream; the spring of a bent delivery system pushes it upstream; rings that touch the wall hold it by
//! friction, and the hand on the system by its stiffness. What slips stays slipped.

use super::forces::{FABRIC_FRICTION, grip_n, obstruction_k, windsock_n};
use super::place::PlaceAt;
use super::plan::free_diameter_mm;
use super::rod::RodShape;
use crate::anatomy::VesselName;
use crate::kit::Graft;
use crate::math::interp;

/// Stiffness of system, wire and hand against sliding, N for each mm (assumed: 7 to 8 N at full pressure move it by half a
/// centimetre, a tenth of that under rapid pacing; errors of 2 mm are reported there).
const HOLD_N_MM: f64 = 1.5;
/// The same when the tip holds the proximal end, so that shaft and sheath both hold it (assumed: twice).
const HOLD_CAPTURED_N_MM: f64 = 3.0;
/// What the lumen's wall lets past the widest open graft, as a part of its section (assumed).
const LEAK_PAST: f64 = 0.06;
/// Width of a ring that the tip still holds, as a part of its free width (assumed).
const CAPTURED: f64 = 0.5;
/// Step in which unsheathing is followed, mm.
const STEP_MM: f64 = 1.0;

/// What the circulation says while the sheath comes back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PressureState {
    /// Mean pressure above the graft, mmHg.
    pub above_mmhg: f64,
    /// Mean pressure below it, mmHg.
    pub below_mmhg: f64,
}

/// How far the work has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum DeployEvent {
    /// The first ring has opened.
    FirstRingOpen,
    /// The first ring touches the wall all round.
    Landed,
    /// It slipped towards the groin.
    SlippedDown,
    /// It sprang towards the heart.
    SprangUp,
    /// The last fabric has left the sheath.
    FullyOpen,
    /// The tip let go of the proximal end.
    TipReleased,
}

/// What one pull did.
#[derive(Clone, Debug, PartialEq)]
pub struct Pull {
    /// What happened, in order.
    pub events: Vec<DeployEvent>,
    /// Movement of the proximal edge in this pull, mm; towards the groin is positive.
    pub shift_mm: f64,
    /// Greatest force of the stream on the graft, N.
    pub stream_n: f64,
    /// Grip of the opened rings, N.
    pub grip_n: f64,
}

/// A graft that is being let out.
#[derive(Clone, Debug, PartialEq)]
pub struct Deployment {
    graft: Graft,
    route: Vec<VesselName>,
    edge_s_mm: f64,
    tilts: Vec<(f64, [f64; 2])>,
    /// Forward push of the bent system, N.
    spring_n: f64,
    /// Diameter of the lumen along the graft, (from the edge mm, mm).
    lumen_mm: Vec<(f64, f64)>,
    unsheathed_mm: f64,
    tip_held: bool,
    shift_mm: f64,
    landed: bool,
}

impl Deployment {
    /// Loaded and in place. `edge_s_mm` is the ruler position of the fabric's proximal edge, `shape` how the system lies,
    /// `tilts` its direction there, `lumen_mm` the true diameter at distances from the edge.
    pub fn begin(
        graft: &Graft,
        route: &[VesselName],
        edge_s_mm: f64,
        shape: &RodShape,
        tilts: Vec<(f64, [f64; 2])>,
        lumen_mm: Vec<(f64, f64)>,
    ) -> Self {
        Self {
            graft: graft.clone(),
            route: route.to_vec(),
            edge_s_mm,
            tilts,
            spring_n: shape.hold_n,
            lumen_mm,
            unsheathed_mm: 0.0,
            tip_held: graft.tip_capture,
            shift_mm: 0.0,
            landed: false,
        }
    }

    /// Length that has left the sheath, bare stent included, mm.
    pub fn unsheathed_mm(&self) -> f64 {
        self.unsheathed_mm
    }
    /// All of it is out.
    pub fn open(&self) -> bool {
        self.unsheathed_mm >= self.whole_mm() - 1e-9
    }
    /// Out, and let go.
    pub fn done(&self) -> bool {
        self.open() && !self.tip_held
    }
    /// Movement of the edge so far, mm; towards the groin is positive.
    pub fn shift_mm(&self) -> f64 {
        self.shift_mm
    }
    /// Ruler position of the edge now, mm.
    pub fn edge_s_mm(&self) -> f64 {
        self.edge_s_mm + self.shift_mm
    }
    fn whole_mm(&self) -> f64 {
        self.graft.bare_proximal_mm + self.graft.length_mm + self.graft.bare_distal_mm
    }

    /// Part of the lumen that the half-open graft takes from the stream, 0 to 1; the circulation needs it.
    pub fn obstruction(&self) -> f64 {
        if self.open() {
            return 0.0;
        }
        let lumen = self.lumen_at(0.0);
        let shaft = self.graft.delivery_mm() / lumen;
        let width = (self.width_mm() / lumen).min(1.0);
        (width * width).max(shaft * shaft) * (1.0 - LEAK_PAST)
    }
    /// Jet loss of that obstruction, mmHg s²/mL².
    pub fn obstruction_k(&self) -> f64 {
        obstruction_k(self.lumen_at(0.0), self.obstruction())
    }
    /// Push of the stream at a pressure drop, N.
    pub fn stream_n(&self, p: &PressureState) -> f64 {
        windsock_n(self.lumen_at(0.0), self.obstruction(), (p.above_mmhg - p.below_mmhg).max(0.0))
    }

    /// Widest part of what is open, mm: a cone from the sheath's mouth, one ring high.
    fn width_mm(&self) -> f64 {
        let d0 = self.graft.delivery_mm();
        let free = free_diameter_mm(&self.graft, 0.0);
        let cone = 1.5 * self.graft.ring_height_mm;
        let opened = (self.unsheathed_mm / cone).min(1.0);
        let free = if self.tip_held
            && self.unsheathed_mm < self.graft.bare_proximal_mm + 2.0 * self.graft.pitch_mm
        {
            CAPTURED * free
        } else {
            free
        };
        d0 + (free - d0).max(0.0) * opened
    }

    fn lumen_at(&self, from_edge_mm: f64) -> f64 {
        interp::linear(&self.lumen_mm, from_edge_mm).max(1.0)
    }

    /// Grip of the rings that are open and touch, N.
    fn grip(&self) -> f64 {
        let g = &self.graft;
        let cone = 1.5 * g.ring_height_mm;
        let held = if self.tip_held { g.pitch_mm } else { -g.bare_proximal_mm };
        let to = self.unsheathed_mm - g.bare_proximal_mm - cone;
        let mut sum = 0.0;
        let mut at = held;
        while at < to {
            let d = free_diameter_mm(g, at.max(0.0));
            let lumen = self.lumen_at(at.max(0.0));
            let over = (d / lumen - 1.0).max(0.0);
            let press = g.outward_kpa * (over / 0.15).min(1.4);
            sum += grip_n(press, lumen, (to - at).min(STEP_MM));
            at += STEP_MM;
        }
        if g.barbs && !self.tip_held && to > 0.0 { sum + super::forces::BARBS_N } else { sum }
    }

    /// Pulls the sheath back.
    pub fn unsheathe(&mut self, by_mm: f64, p: &PressureState) -> Pull {
        let mut events = Vec::new();
        let before = self.shift_mm;
        let mut stream = 0.0f64;
        let mut left = by_mm.max(0.0).min(self.whole_mm() - self.unsheathed_mm);
        while left > 1e-9 {
            let step = left.min(STEP_MM);
            left -= step;
            let was = self.unsheathed_mm;
            self.unsheathed_mm += step;
            let crossed = |x: f64| was < x && self.unsheathed_mm >= x;
            if crossed(self.graft.bare_proximal_mm + self.graft.ring_height_mm) {
                events.push(DeployEvent::FirstRingOpen);
            }
            // Fabric shortens as it opens: the free end of what is not yet held moves half of that.
            if self.grip() < 0.2 {
                self.shift_mm += 0.5 * self.graft.foreshortening * step;
            }
            stream = stream.max(self.stream_n(p));
            self.slip(p, &mut events);
            if !self.landed && self.grip() > 0.2 {
                self.landed = true;
                events.push(DeployEvent::Landed);
            }
        }
        if self.open() && by_mm > 0.0 {
            events.push(DeployEvent::FullyOpen);
        }
        Pull { events, shift_mm: self.shift_mm - before, stream_n: stream, grip_n: self.grip() }
    }

    /// Lets the tip go. A bare stent that was held springs open; until then only fabric below it had grip.
    pub fn release_tip(&mut self, p: &PressureState) -> Pull {
        let mut events = Vec::new();
        let before = self.shift_mm;
        if self.tip_held {
            self.tip_held = false;
            events.push(DeployEvent::TipReleased);
            self.slip(p, &mut events);
        }
        Pull { events, shift_mm: self.shift_mm - before, stream_n: self.stream_n(p), grip_n: self.grip() }
    }

    /// Moves the edge until hand, friction, stream and spring balance.
    fn slip(&mut self, p: &PressureState, events: &mut Vec<DeployEvent>) {
        let push = self.stream_n(p) - if self.landed { 0.0 } else { self.spring_n };
        let grip = self.grip();
        let hold = if self.tip_held { HOLD_CAPTURED_N_MM } else { HOLD_N_MM };
        let along = push - hold * self.shift_mm;
        // The hand brings it back only as far as friction lets it, and never across.
        let slip = if along > grip {
            (along - grip) / hold
        } else if along < -grip {
            (along + grip) / hold
        } else {
            0.0
        };
        if slip.abs() > 1e-9 {
            self.shift_mm += slip;
        }
        if slip > 0.5 && !events.contains(&DeployEvent::SlippedDown) {
            events.push(DeployEvent::SlippedDown);
        }
        if slip < -0.5 && !events.contains(&DeployEvent::SprangUp) {
            events.push(DeployEvent::SprangUp);
        }
    }

    /// Moves the loaded system before anything is open, mm along the ruler; refused once a ring holds the wall.
    pub fn move_by(&mut self, by_mm: f64) -> Result<(), super::Refusal> {
        if self.landed {
            let holds = self.grip() / FABRIC_FRICTION;
            return Err(super::Refusal(format!(
                "its rings hold the wall with {holds:.0} N: an open graft cannot be moved without tearing it; finish, and extend it"
            )));
        }
        self.edge_s_mm += by_mm;
        Ok(())
    }

    /// Where it was let go: what [`super::place`] needs.
    pub fn place_at(&self) -> PlaceAt {
        PlaceAt { route: self.route.clone(), proximal_s_mm: self.edge_s_mm(), released: self.tilts.clone() }
    }
}
