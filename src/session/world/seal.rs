//! The lesion, the grafts that should seal it, and the leaks that they leave: contact and film networks from `mechanics`,
//! joined to the circulation as feeds of the sac.

use super::{Narrows, World, septum};
use crate::anatomy::{Cavity, LesionMark, LesionShape, Site, Tear, Tree, VesselName};
use crate::circulation::{Circulation, Feed, Sac, Site as Node, Space};
use crate::kit::{Graft, GraftKind};
use crate::mechanics::leak::{BranchSource, Film, network};
use crate::mechanics::{self, LeakKind, LeakReport, Ostium, PlaceAt, Placed, Pressures, SacPatch};
use crate::scenario::Loaded;
use crate::session::dice::{self, Dice};
use crate::session::event::{EventKind, PlacedFacts};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Name of the lesion's sac in the circulation.
pub const SAC: &str = "lesion";

/// Below this the sac counts as sealed, mL/min: films seep a few mL/min before they clot, and a run does not show less.
pub const SEALED_ML_MIN: f64 = 10.0;

/// Below this mean pressure nothing flows that could tell a leak from a seal (assumed).
const TELLING_MMHG: f64 = 40.0;

/// Collaterals behind a covered branch: a mL or so each second at a pressure fall of 20 mmHg; behind one segmental artery, whose
/// neighbours are thin, a tenth of that (both assumed).
const BRANCH_R_MMHG_S_ML: f64 = 20.0;
const SEGMENTAL_R_MMHG_S_ML: f64 = 200.0;

/// A common iliac artery that is cut off runs back into the sac through its own length only (Poiseuille: a tenth of this; the rest
/// is the bend into it, assumed).
const ILIAC_R_MMHG_S_ML: f64 = 0.3;

/// A graft that was let go.
#[derive(Clone, Debug)]
pub struct Piece {
    /// Shelf id.
    pub device: String,
    /// How it lies.
    pub placed: Arc<Placed>,
    /// What was told of it.
    pub facts: PlacedFacts,
}

/// The lesion and what was done about it.
#[derive(Clone)]
pub struct Seal {
    /// What is drawn for this session: fold onset, unevenness of the wall.
    draw: mechanics::Case,
    /// The tear: area, mm², and where it leads.
    rupture: Option<(f64, Space)>,
    sac_compliance_ml_mmhg: f64,
    sac_mouth_mm2: f64,
    lesion_mm: (f64, f64),
    /// Further ways into a false lumen, which no graft over the entry closes.
    pub(super) reentries: Vec<Feed>,
    /// Grafts, first placed first.
    pub pieces: Vec<Piece>,
    /// The leaks as last solved.
    pub report: Option<LeakReport>,
    film: Film,
    solved_clotted: f64,
    solved_map_mmhg: f64,
    since_s: f64,
    told: [bool; 4],
    tight: bool,
    /// Leak flows now, mL/min: Ia, Ib, II, III.
    pub leak_ml_min: [f64; 4],
}

impl Seal {
    /// The lesion as the case has it; in a dissected aorta the entry tear, whose sac is the false lumen.
    pub fn new(case: &Loaded) -> Self {
        let tree = &case.tree;
        let lesion = tree.aorta().wall.lesions.first();
        let septum = tree.aorta().wall.septum.as_ref();
        let entry = septum.and_then(|s| s.tears.first());
        let patch = entry.map(|t| entry_patch(tree, t)).or_else(|| lesion.map(|l| sac_patch(tree, l)));
        let mouth_mm2 = match (entry, lesion) {
            (Some(t), _) => 0.25 * std::f64::consts::PI * t.diameter_mm * t.diameter_mm,
            (None, Some(l)) => mouth_mm2(l),
            (None, None) => 0.0,
        };
        let lesion_mm = match (entry, lesion) {
            (Some(t), _) => (t.true_s_mm - 0.5 * t.diameter_mm, t.true_s_mm + 0.5 * t.diameter_mm),
            (None, Some(l)) => (l.from_mm, l.to_mm),
            (None, None) => (0.0, 0.0),
        };
        let further = septum.iter().flat_map(|s| s.tears.iter().skip(1));
        Self {
            draw: mechanics::Case::new(patch.into_iter().collect()),
            rupture: lesion.and_then(|l| l.rupture).map(|r| (r.area_mm2, space(r.into))),
            sac_compliance_ml_mmhg: if septum.is_some() {
                septum::COMPLIANCE_ML_MMHG
            } else {
                SAC_COMPLIANCE_ML_MMHG
            },
            sac_mouth_mm2: mouth_mm2,
            lesion_mm,
            reentries: further
                .map(|t| septum::tear_feed(t.true_s_mm, t.diameter_mm))
                .chain(septum.map(septum::torn_branches))
                .collect(),
            pieces: Vec::new(),
            report: None,
            film: Film::default(),
            solved_clotted: 0.0,
            solved_map_mmhg: 0.0,
            since_s: 0.0,
            told: [false; 4],
            tight: false,
            leak_ml_min: [0.0; 4],
        }
    }

    /// For sweeps: half the cells (assumed fine enough; the sweeps' tests hold the endings).
    pub(super) fn set_coarse(&mut self) {
        self.draw.row_mm = 2.0;
    }

    /// How wall and fabric are is thrown when the first graft meets them.
    pub(super) fn meet_wall(&mut self, dice: &mut Dice) {
        if self.pieces.is_empty() {
            let side = dice.side("wall".into());
            self.draw.meet(dice::middle(side), side.into());
        }
    }

    /// Where the lesion lies, mm from the valve.
    pub fn lesion_mm(&self) -> (f64, f64) {
        self.lesion_mm
    }

    /// Does a graft span the whole lesion?
    pub fn spanned(&self) -> bool {
        self.under_fabric(self.lesion_mm.0) && self.under_fabric(self.lesion_mm.1)
    }

    /// Aorta under fabric, mm from the valve, piece by piece.
    pub fn spans(&self) -> impl Iterator<Item = (f64, f64)> {
        self.pieces.iter().map(|p| p.facts.edges_mm.into())
    }

    /// Does fabric lie over this place, mm from the valve?
    pub fn under_fabric(&self, s_mm: f64) -> bool {
        self.spans().any(|(a, b)| a < s_mm && s_mm < b)
    }

    /// Flow into the sac past all grafts, mL/min.
    pub fn leak_total(&self) -> f64 {
        self.leak_ml_min.iter().sum()
    }

    /// Spanned, and the leak below the threshold when there was last a pressure that could show one?
    pub fn sealed(&self) -> bool {
        self.spanned() && self.tight
    }

    /// What was drawn of the wall and the fabric.
    pub(super) fn draw(&self) -> &mechanics::Case {
        &self.draw
    }

    /// Branches under fabric, with the part of each that is open; a bypass feeds what the fabric covers, as far as its donor is
    /// open itself. The one vessel that stands for all segmental arteries is closed pair by pair instead.
    fn covered(&self, bypassed: &[VesselName]) -> Vec<(VesselName, f64)> {
        let mut least = BTreeMap::new();
        let cut_off = self.cut_off().map(|v| (v, 0.0));
        for (vessel, open) in self.pieces.iter().flat_map(|p| p.placed.covered()).chain(cut_off) {
            if vessel != VesselName::Intercostals {
                let least = least.entry(vessel).or_insert(1.0f64);
                *least = least.min(open);
            }
        }
        // In the order of the names a donor comes before what it feeds.
        for vessel in least.keys().copied().collect::<Vec<_>>() {
            if bypassed.contains(&vessel) {
                let fed = donor(vessel).and_then(|d| least.get(&d)).copied().unwrap_or(1.0);
                least.insert(vessel, fed);
            }
        }
        least.into_iter().collect()
    }

    /// The common iliac artery that a body with one leg cuts off, once that leg reaches into the other.
    fn cut_off(&self) -> Option<VesselName> {
        let one_leg = self.pieces.iter().any(|p| p.placed.graft.kind == GraftKind::AortoUniIliac);
        let two_legs =
            self.pieces.iter().any(|p| matches!(p.placed.graft.kind, GraftKind::BifurcatedBody { .. }));
        let into = self
            .pieces
            .iter()
            .map(|p| p.placed.vessel_at(p.facts.edges_mm[1]))
            .find(|v| *v != VesselName::Aorta);
        into.filter(|_| one_leg && !two_legs)
            .map(|v| if v.is_left() { VesselName::RightCommonIliac } else { VesselName::LeftCommonIliac })
    }

    /// Tells a circulation what lies under fabric.
    pub(super) fn cover(&self, patient: &mut Circulation, bypassed: &[VesselName]) {
        for (vessel, open) in self.covered(bypassed) {
            patient.set_patency(vessel, open);
        }
        let spans: Vec<(f64, f64)> = self.spans().collect();
        patient.set_segmental_cover(&spans);
    }

    /// The most that a tear of the aorta can let through under the fabric that lies over it, mm²: what passes the narrowest film
    /// between fabric and wall round it. Without fabric, no limit.
    pub(super) fn under_mm2(&self, s_mm: f64) -> f64 {
        /// Seal beyond a tear without which blood finds its way round the edge, mm (assumed).
        const MARGIN_MM: f64 = 5.0;
        let over =
            |p: &&Piece| p.facts.edges_mm[0] + MARGIN_MM < s_mm && s_mm < p.facts.edges_mm[1] - MARGIN_MM;
        self.pieces.iter().filter(over).map(|p| p.placed.seep_mm2(s_mm)).fold(f64::INFINITY, f64::min)
    }

    /// Has the lesion burst?
    pub(super) fn ruptured(&self) -> bool {
        self.rupture.is_some_and(|r| r.0 > 0.0)
    }

    pub(super) fn widen_rupture(&mut self, by_mm2: f64) {
        if let Some((area, _)) = &mut self.rupture {
            *area = (*area + by_mm2).min(400.0);
        }
    }

    /// Where blood of the lesion's tear runs, if it has one.
    pub(super) fn bleeds_into(&self) -> Option<Space> {
        self.rupture.map(|(_, space)| space)
    }

    pub(super) fn scale_rupture(&mut self, factor: f64) {
        if let Some((area, _)) = &mut self.rupture {
            *area = (*area * factor.clamp(0.0, 100.0)).min(400.0);
        }
    }

    /// Tells the circulation how the sac is fed: wide open by its mouth, or past the grafts.
    pub fn declare(&self, patient: &mut Circulation) {
        if self.lesion_mm.1 <= self.lesion_mm.0 {
            return;
        }
        let mut feeds: Vec<Feed> = match (&self.report, self.spanned()) {
            (Some(report), true) => report
                .paths
                .iter()
                .map(|p| Feed {
                    from: match p.vessel {
                        VesselName::Aorta => Node::AortaMm(p.from.0),
                        vessel => Node::Vessel(vessel),
                    },
                    r: p.r_mmhg_s_ml,
                    k: p.k_mmhg_s2_ml2,
                })
                .collect(),
            _ => vec![Feed {
                from: Node::AortaMm(0.5 * (self.lesion_mm.0 + self.lesion_mm.1)),
                r: 0.01,
                k: crate::circulation::bleed::orifice_k(self.sac_mouth_mm2.max(1.0)),
            }],
        };
        // Fabric over a further tear closes that too.
        let open = |f: &&Feed| !matches!(f.from, Node::AortaMm(s_mm) if self.under_fabric(s_mm));
        feeds.extend(self.reentries.iter().filter(open));
        let sac = Sac {
            feeds,
            compliance_ml_mmhg: self.sac_compliance_ml_mmhg,
            rupture: self.rupture,
            clots: true,
        };
        patient.set_sac(SAC, &sac);
    }
}

impl World {
    /// The vessels at the calibre of now.
    pub(super) fn tree_now(&self) -> Tree {
        self.tree.at_pressure(self.patient.vitals().right_radial.mean_mmhg)
    }

    /// Lets a graft go where it stands and solves how it lies and leaks.
    pub(super) fn place(
        &mut self,
        site: Site,
        device: &str,
        graft: &Graft,
        meant_mm: f64,
        shift_mm: f64,
        at: &PlaceAt,
    ) {
        self.seal.meet_wall(&mut self.dice);
        let tree = self.given_way(graft, at.proximal_s_mm);
        let before: Vec<Placed> = self.seal.pieces.iter().map(|p| (*p.placed).clone()).collect();
        let placed = mechanics::place(&tree, graft, at, &before, &self.seal.draw);
        // The films of this night's first piece are fresh.
        if before.iter().all(|p| p.clotted >= 1.0) {
            self.seal.film.clotted = 0.0;
        }
        let facts = self.told(facts(device, site, [meant_mm, shift_mm], &placed), graft);
        self.seal.pieces.push(Piece {
            device: device.into(),
            placed: Arc::new(placed),
            facts: facts.clone(),
        });
        self.seal.solved_map_mmhg = self.patient.vitals().right_radial.mean_mmhg;
        self.apply_coverage();
        let read = vec![
            ("map".into(), self.seal.solved_map_mmhg),
            ("meant".into(), meant_mm),
            ("off_profile".into(), self.picture.marked_off_profile_deg),
        ];
        self.report_with(EventKind::Placed(facts), read);
        self.solve_leaks();
    }

    /// Finds again how every graft lies, at the calibre of now and after any balloons.
    pub(super) fn lay_again(&mut self) {
        let mut before: Vec<Placed> = Vec::new();
        for i in 0..self.seal.pieces.len() {
            let Piece { device, placed: p, facts: f } = self.seal.pieces[i].clone();
            let tree = self.given_way(&p.graft, p.at.proximal_s_mm);
            let was = self.patient.is_coarse().then_some(&*p);
            let mut laid =
                mechanics::lay(&tree, &p.graft, &p.at, &before, &self.seal.draw, &p.mouldings, was);
            laid.clotted = p.clotted;
            let site = f.site.unwrap_or(Site::RightFemoral);
            let facts = self.told(facts(&device, site, [f.meant_mm, f.shift_mm], &laid), &p.graft);
            before.push(laid.clone());
            self.seal.pieces[i] = Piece { device, placed: Arc::new(laid), facts };
        }
        self.seal.solved_map_mmhg = self.patient.vitals().right_radial.mean_mmhg;
        self.apply_coverage();
        self.solve_leaks();
    }

    /// In a dissected aorta the lower end is told against the true lumen as it was before the graft pushed the septum away: that is
    /// what it is sized by, and what goes with a new tear there.
    fn told(&self, mut facts: PlacedFacts, graft: &Graft) -> PlacedFacts {
        let end_mm = facts.edges_mm[1];
        let septum = self.tree.aorta().wall.septum.as_ref();
        if septum.is_some_and(|s| (s.from_mm..s.to_mm).contains(&end_mm)) {
            let true_mm = self.tree_now().aorta().lumen.diameter_mm(end_mm);
            facts.oversize_percent[1] = 100.0 * (graft.distal_mm / true_mm.max(1.0) - 1.0);
        }
        facts
    }

    fn apply_coverage(&mut self) {
        let covered = self.seal.covered(&self.bypassed);
        let was = self.narrowed.keys().filter(|k| k.1 == Narrows::Fabric).map(|k| k.0);
        // A graft that has moved frees what it covered.
        let freed: Vec<VesselName> = was.filter(|v| !covered.iter().any(|c| c.0 == *v)).collect();
        for (vessel, open) in covered.into_iter().chain(freed.into_iter().map(|v| (v, 1.0))) {
            self.narrow(vessel, Narrows::Fabric, open);
        }
        let spans: Vec<(f64, f64)> = self.seal.spans().collect();
        self.patient.set_segmental_cover(&spans);
    }

    /// Joins a branch to its neighbour, so that fabric may cover its own mouth.
    pub(super) fn bypass(&mut self, vessel: VesselName) {
        self.bypassed.push(vessel);
        self.apply_coverage();
        // A bypass is sewn beyond what is torn.
        for by in [Narrows::Flap, Narrows::Mouth, Narrows::Septum] {
            self.narrow(vessel, by, 1.0);
        }
        self.held_mouths.push(vessel);
    }

    /// Solves the film network between all grafts and the wall and tells the circulation.
    pub(super) fn solve_leaks(&mut self) {
        if self.seal.pieces.is_empty() {
            return;
        }
        let pieces: Vec<Placed> = self.seal.pieces.iter().map(|p| (*p.placed).clone()).collect();
        let pressures = self.leak_pressures();
        let report = network(&pieces, &pressures, &self.branch_sources(&pieces), &self.seal.film);
        self.seal.report = Some(report);
        self.seal.solved_clotted = self.seal.film.clotted;
        self.seal.declare(&mut self.patient);
    }

    fn leak_pressures(&self) -> Pressures {
        let edges = self.seal.pieces.iter().fold((f64::INFINITY, 0.0f64), |(a, b), p| {
            (a.min(p.facts.edges_mm[0]), b.max(p.facts.edges_mm[1]))
        });
        Pressures {
            proximal_mmhg: self.patient.pressure_mmhg(edges.0),
            distal_mmhg: self.patient.pressure_mmhg(edges.1),
            sac_mmhg: self.patient.sac(SAC).map_or(0.0, |s| s.0),
        }
    }

    /// Once a second: the flows of now, clotting of thin films, and a new solution when the calibre has changed.
    pub(super) fn follow_seal(&mut self, seconds: f64) {
        if self.seal.pieces.is_empty() {
            return;
        }
        let mut flows = [0.0; 4];
        if let (Some(report), Some((_, feeds)), true) =
            (&self.seal.report, self.patient.sac(SAC), self.seal.spanned())
        {
            for (path, q) in report.paths.iter().zip(&feeds) {
                let slot = match path.kind {
                    LeakKind::Ia => 0,
                    LeakKind::Ib => 1,
                    LeakKind::II(_) => 2,
                    LeakKind::III | LeakKind::IV => 3,
                };
                flows[slot] += 60.0 * q.in_ml_s;
            }
        }
        self.seal.leak_ml_min = flows;
        if self.patient.vitals().root.mean_mmhg > TELLING_MMHG {
            self.seal.tight = self.seal.leak_total() < SEALED_ML_MIN;
        }
        // Told when it opens or closes, not each time that a breath moves it across the threshold.
        let mut told = self.seal.told;
        for (was, q) in told.iter_mut().zip(flows) {
            *was = q > SEALED_ML_MIN * if *was { 0.5 } else { 1.5 };
        }
        if told != self.seal.told {
            self.seal.told = told;
            let read = self.leak_causes();
            self.report_with(EventKind::Leak { ml_min: flows }, read);
        }
        self.seal.since_s += seconds;
        if self.seal.since_s < 30.0 {
            return;
        }
        let passed = self.seal.since_s;
        self.seal.since_s = 0.0;
        self.seal.film = self.clotting_film(passed);
        let (clots, moves_mmhg) = if self.patient.is_coarse() { COARSE_NEWS } else { NEWS };
        let moved = (self.seal.film.clotted - self.seal.solved_clotted).abs() > clots;
        let map = self.patient.vitals().right_radial.mean_mmhg;
        if (map - self.seal.solved_map_mmhg).abs() > moves_mmhg && self.patient.alive() {
            self.lay_again();
        } else if moved {
            self.solve_leaks();
        }
    }

    /// Covered branches as sources of the sac: what feeds them from behind, by the pressure in their own bed. Blood that stands
    /// in a shut sac clots, and the mouths in it with the films.
    fn branch_sources(&self, pieces: &[Placed]) -> Vec<BranchSource> {
        let (from, to) = self.seal.lesion_mm;
        let inside = |s_mm: f64| from < s_mm && s_mm < to;
        let open = 1.0 - 0.97 * self.seal.film.clotted;
        let segmentals = self.tree.aorta().wall.segmentals.iter().filter(|r| inside(r.s_mm)).count().max(1);
        let dissected = self.tree.aorta().wall.septum.is_some();
        let cut_off = self.seal.cut_off();
        // No segmental artery leaves from a tear of the septum.
        let leads_in = |o: &Ostium| {
            let covered = o.open_fraction < 0.5 && inside(o.s_mm);
            cut_off == Some(o.vessel) || covered && !(dissected && o.vessel == VesselName::Intercostals)
        };
        let mut sources: Vec<BranchSource> = pieces
            .iter()
            .flat_map(|p| &p.ostia)
            .filter(|o| leads_in(o))
            .map(|o| BranchSource {
                vessel: o.vessel,
                pressure_mmhg: self.patient.vessel_pressure_mmhg(o.vessel),
                resistance_mmhg_s_ml: match o.vessel {
                    // A whole artery, as far as nothing is packed into it.
                    v if cut_off == Some(v) => self.packed_mmhg_s_ml(v) + ILIAC_R_MMHG_S_ML,
                    VesselName::Intercostals => SEGMENTAL_R_MMHG_S_ML / segmentals as f64 / open,
                    _ => BRANCH_R_MMHG_S_ML / open,
                },
                mouth_mm2: std::f64::consts::PI * o.radius_mm * o.radius_mm,
                at: (o.s_mm, o.theta_rad),
                transit_s: 3.0,
            })
            .collect();
        // Two pieces may reach the same mouth.
        sources.dedup_by_key(|s| s.vessel);
        sources
    }

    /// Thin films clot over minutes, more slowly with heparin or a spent clotting system.
    fn clotting_film(&self, seconds: f64) -> Film {
        let act = self.patient.lab(crate::circulation::Test::Act);
        // Ten minutes at a normal clotting time, in proportion longer beyond it (assumed).
        let tau_s = 600.0 * (act / 135.0).max(0.5);
        let left = (1.0 - self.seal.film.clotted) * crate::math::ops::exp(-seconds / tau_s);
        let porous = ((act - 135.0) / 100.0).clamp(0.0, 1.0);
        Film { clotted: 1.0 - left, porous }
    }

    /// The numbers that a leak comes from.
    fn leak_causes(&self) -> Vec<(String, f64)> {
        let Some(first) = self.seal.pieces.first() else { return Vec::new() };
        let f = &first.facts;
        vec![
            ("oversize.proximal".into(), f.oversize_percent[0]),
            ("oversize.distal".into(), f.oversize_percent[1]),
            ("seal.proximal".into(), f.seal_mm[0]),
            ("seal.inner".into(), f.inner_mm),
            ("gap".into(), f.gap_mm),
            ("beak".into(), f.beak_mm),
            ("fold".into(), f.fold_mm2),
        ]
    }
}

/// The artery that a bypass takes from: the usual ones in the neck; elsewhere one that no graft covers.
fn donor(vessel: VesselName) -> Option<VesselName> {
    match vessel {
        VesselName::LeftSubclavian => Some(VesselName::LeftCarotid),
        VesselName::LeftCarotid => Some(VesselName::Innominate),
        _ => None,
    }
}

/// What is told of a graft where it lies.
pub(super) fn facts(
    device: &str,
    site: Site,
    [meant_mm, shift_mm]: [f64; 2],
    placed: &Placed,
) -> PlacedFacts {
    let [up, down] = &placed.ends;
    let (gap_mm, gap_angle_deg) = widest_gap(placed);
    PlacedFacts {
        device: device.into(),
        site: Some(site),
        meant_mm,
        edges_mm: [up.edge_s_mm, down.edge_s_mm],
        shift_mm,
        oversize_percent: [up.oversize_percent, down.oversize_percent],
        seal_mm: [up.seal_mm, down.seal_mm],
        inner_mm: up.inner_seal_mm,
        beak_mm: up.beak_mm,
        fold_mm2: up.fold_mm2.max(down.fold_mm2),
        gap_mm,
        gap_angle_deg,
        covered: placed.covered(),
        in_false_lumen: false,
    }
}

/// The widest gap of the upper 20 mm outside the sac, mm, and its angle from the outer curve, degrees.
fn widest_gap(placed: &Placed) -> (f64, f64) {
    let mut widest = (0.0, 0.0);
    for cell in placed.cells.iter().filter(|c| !c.sac && c.s_mm < placed.ends[0].edge_s_mm + 20.0) {
        if cell.gap_mm > widest.0 {
            widest = (cell.gap_mm, cell.theta_rad);
        }
    }
    let inner = placed.inner_theta_rad[0].unwrap_or(0.0);
    let turn = (widest.1 - inner + std::f64::consts::PI) / std::f64::consts::TAU;
    (widest.0, 360.0 * (turn - turn.floor()))
}

/// What is solved anew: so much of the films has clotted since, or the mean pressure has moved by so many mmHg (both assumed).
const NEWS: (f64, f64) = (0.05, 12.0);
/// The same where a sweep's patient is followed coarsely (assumed).
const COARSE_NEWS: (f64, f64) = (0.25, 25.0);

/// Compliance of an aneurysm's sac with its clot, mL/mmHg (assumed).
const SAC_COMPLIANCE_ML_MMHG: f64 = 0.5;

/// The wall that leads into a lesion's sac. Below an infrarenal aneurysm two legs lie side by side in the last of the aorta: no
/// seal there, it is of the sac.
fn sac_patch(tree: &Tree, lesion: &LesionMark) -> SacPatch {
    let renal = [VesselName::LeftRenal, VesselName::RightRenal];
    let renal_mm = renal.iter().filter_map(|v| tree.aortic_s_mm(*v)).fold(0.0, f64::max);
    let infrarenal = lesion.from_mm > renal_mm && renal_mm > 0.0;
    let to_mm = if infrarenal { tree.aorta().curve.length_mm() + 5.0 } else { lesion.to_mm };
    SacPatch { from_mm: lesion.from_mm, to_mm, facing: facing(tree, lesion) }
}

/// The hole in the septum that leads into the false lumen.
fn entry_patch(tree: &Tree, tear: &Tear) -> SacPatch {
    let half_mm = 0.5 * tear.diameter_mm;
    let radius = 0.5 * tree.aorta().lumen.diameter_mm(tear.true_s_mm);
    SacPatch {
        from_mm: tear.true_s_mm - half_mm,
        to_mm: tear.true_s_mm + half_mm,
        facing: Some((tear.theta_rad, (half_mm / radius.max(1.0)).min(3.0))),
    }
}

/// The wall of a lesion that leads into its sac: centre and half width, rad; all round for a fusiform one.
fn facing(tree: &Tree, lesion: &LesionMark) -> Option<(f64, f64)> {
    let neck_mm = match lesion.shape {
        LesionShape::Fusiform { .. } => return None,
        LesionShape::Saccular { neck_mm, .. }
        | LesionShape::Ulcer { neck_mm, .. }
        | LesionShape::Transection { neck_mm, .. } => neck_mm,
    };
    let radius = 0.5 * tree.aorta().lumen.diameter_mm(lesion.from_mm);
    Some((lesion.theta_rad?, (neck_mm / (2.0 * radius)).min(3.0)))
}

/// The opening between stream and sac, mm².
fn mouth_mm2(lesion: &LesionMark) -> f64 {
    match lesion.shape {
        // A fusiform sac is the stream itself.
        LesionShape::Fusiform { max_mm, .. } => max_mm * (lesion.to_mm - lesion.from_mm),
        LesionShape::Saccular { neck_mm, .. }
        | LesionShape::Ulcer { neck_mm, .. }
        | LesionShape::Transection { neck_mm, .. } => 0.785 * neck_mm * neck_mm,
    }
}

fn space(cavity: Cavity) -> Space {
    match cavity {
        Cavity::PericardialSac => Space::PericardialSac,
        Cavity::Mediastinum => Space::Mediastinum,
        Cavity::LeftPleura => Space::LeftPleura,
        Cavity::RightPleura => Space::RightPleura,
        Cavity::Retroperitoneum => Space::Retroperitoneum,
        Cavity::Peritoneum => Space::Peritoneum,
        Cavity::SoftTissue => Space::SoftTissue,
    }
}
