//! Builds the [`View`] of now.

use super::Session;
use super::event::{EventKind, RunFacts, Tick};
use super::tell;
use super::view::{
    AlarmView, AskView, CarmView, DrawnMark, EndView, ItemView, JobView, LineView, Offer, RailView, RunView,
    ShelfView, Tally, View,
};
use super::world::{self, lines::ItemState};
use crate::anatomy::{RailMarkKind, Site, VesselName};
use crate::kit::Device;
use crate::math::Streams;
use crate::scenario::Order;
use crate::scenario::case::Ask;
use crate::scenario::order::{BriefItem, Closure, CtExtent, Guide};

impl Session {
    /// Everything that can be seen and heard now.
    pub fn view(&self) -> View {
        View {
            now: self.now,
            phase: self.phase(),
            vitals: *self.world.patient.vitals(),
            alarms: self
                .world
                .alarms
                .active()
                .map(|(signal, priority, since)| AlarmView { signal, priority, since })
                .collect(),
            jobs: self.jobs(),
            rail: self.rail(),
            asks: self.asks(),
            offers: self.offers(),
            carm: CarmView {
                primary_deg: self.world.picture.pose.primary_deg,
                secondary_deg: self.world.picture.pose.secondary_deg,
                screening: self.world.picture.screening,
                table_locked: self.world.picture.table_locked,
                field_mm: self.world.picture.pose.field_mm,
                shutters_percent: {
                    let s = self.world.picture.pose.shutter;
                    [s.left, s.right, s.top, s.bottom].map(|part| 100.0 * part)
                },
                rates_per_s: {
                    let r = self.world.picture.dose.rates;
                    [r.screening_per_s, r.runs_per_s]
                },
                panned_mm: self.world.picture.panned_mm(),
                reference_true: self.world.picture.reference_true(),
            },
            drawn: self
                .world
                .marks_drawn()
                .into_iter()
                .map(|(name, ends, holds)| DrawnMark { name, ends, holds })
                .collect(),
            runs: self.runs(),
            shelf: self.shelf(),
            tally: self.tally(),
            labs: self
                .world
                .results
                .iter()
                .map(|(t, v, at)| (t.label().to_string(), *v, t.unit(), *at))
                .collect(),
            ended: self.ended().map(|e| EndView {
                title: e.title.clone(),
                tone: e.tone,
                text: e.text.clone(),
            }),
        }
    }

    fn phase(&self) -> Vec<String> {
        let mut titles = Vec::new();
        let states = self.story.states();
        let mut level: Vec<&crate::scenario::case::StateSpec> = self.case.case.chart.states.iter().collect();
        while !level.is_empty() {
            let mut next = Vec::new();
            for state in level {
                if states.contains(&state.id) {
                    if !state.title.is_empty() {
                        titles.push(state.title.clone());
                    }
                    next.extend(&state.states);
                }
            }
            level = next;
        }
        titles
    }

    fn jobs(&self) -> Vec<JobView> {
        self.hands
            .all()
            .map(|(worker, job)| JobView {
                worker,
                text: self.order_words(&job.order),
                began: job.began,
                until: job.began.map(|b| b.after(job.ticks)),
            })
            .collect()
    }

    fn rail(&self) -> RailView {
        let world = &self.world;
        let tree = &self.case.tree;
        let Some(rail) = world.rail(Site::RightFemoral) else { return RailView::default() };
        let marks = rail.marks(tree);
        RailView {
            length_mm: rail.length_mm(),
            zones: marks
                .iter()
                .filter(|m| matches!(m.kind, RailMarkKind::Zone(_)))
                .map(|m| (m.label.clone(), m.from_mm, m.to_mm))
                .collect(),
            ostia: tree
                .vessels
                .iter()
                .filter_map(|v| v.root.filter(|r| r.parent == 0).map(|r| (v.name, r.s_mm)))
                .filter(|(n, _)| *n != VesselName::Intercostals)
                .collect(),
            lesions: marks
                .iter()
                .filter(|m| m.kind == RailMarkKind::Lesion && world.ct.is_some())
                .map(|m| (m.label.clone(), m.from_mm, m.to_mm))
                .collect(),
            marks: world.picture.marks.iter().map(|(m, at)| (*m, *at)).collect(),
            grafts: world
                .seal
                .pieces
                .iter()
                .map(|p| (self.label(&p.device), p.facts.edges_mm[0], p.facts.edges_mm[1]))
                .collect(),
            lines: world
                .lines
                .iter()
                .filter(|(_, l)| !l.closed)
                .map(|(site, line)| LineView {
                    site: *site,
                    entry_mm: line.entry_mm,
                    items: line
                        .items()
                        .iter()
                        .map(|i| ItemView {
                            device: i.device.clone(),
                            label: self.label(&i.device),
                            kind: self.case.shelf.get(&i.device).map_or("device", |s| kind(&s.device)),
                            tip_mm: i.tip_mm,
                            state: match i.state {
                                ItemState::Plain => None,
                                ItemState::Graft { bared_mm, .. } => Some(bared_mm),
                                ItemState::Balloon { ml } => Some(ml),
                            },
                        })
                        .collect(),
                })
                .collect(),
        }
    }

    fn asks(&self) -> Vec<AskView> {
        self.story
            .open()
            .filter_map(|(id, since)| {
                let ask = self.case.case.asks.iter().find(|a| a.id == id)?;
                Some(AskView {
                    id: ask.id.clone(),
                    who: ask.who.clone(),
                    question: ask.question.clone(),
                    why: ask.why,
                    confidence: ask.confidence,
                    closes: ask.closes.map(|c| since.after(Tick::from_ms(c.ms).0)),
                    options: dealt(ask, self.seed),
                })
            })
            .collect()
    }

    fn runs(&self) -> Vec<RunView> {
        self.events
            .iter()
            .filter_map(|e| match &e.kind {
                EventKind::Ran(f) => Some(RunView { number: f.number, at: e.at, seen: seen(f) }),
                _ => None,
            })
            .collect()
    }

    fn shelf(&self) -> Vec<ShelfView> {
        self.case
            .shelf
            .items
            .iter()
            .map(|s| ShelfView {
                id: s.id.clone(),
                label: s.label.clone(),
                kind: kind(&s.device),
                left: self.world.left(&s.id),
            })
            .collect()
    }

    fn tally(&self) -> Vec<Tally> {
        let p = &self.world.picture;
        let blood = self.world.patient.blood();
        vec![
            Tally { name: "contrast", value: p.contrast_ml, unit: "mL" },
            Tally { name: "fluoroscopy", value: p.dose.fluoro_s, unit: "s" },
            Tally { name: "kerma-area product", value: p.dose.kap_gy_cm2, unit: "Gy cm2" },
            Tally { name: "crystalloid", value: world::crystalloid_ml(blood), unit: "mL" },
            Tally { name: "blood products", value: world::products_ml(blood), unit: "mL" },
        ]
    }

    /// Every sort of order, with the reason where the state does not allow it.
    fn offers(&self) -> Vec<Offer> {
        let w = &self.world;
        let open: Vec<Site> = w.lines.iter().filter(|(_, l)| !l.closed).map(|(s, _)| *s).collect();
        let no_line = || open.is_empty().then(|| "there is no access yet: puncture one".to_string());
        let mut offers: Vec<Offer> = Vec::new();
        let mut add = |verb: &'static str,
                       label: &str,
                       group: &'static str,
                       blocked: Option<String>,
                       ready: Vec<Order>| {
            let blocked = blocked.or_else(|| {
                let all: Vec<Option<String>> = ready.iter().map(|o| self.refusal(o)).collect();
                if !ready.is_empty() && all.iter().all(Option::is_some) {
                    all.into_iter().flatten().next()
                } else {
                    None
                }
            });
            let ready = ready
                .into_iter()
                .filter(|o| self.refusal(o).is_none())
                .map(|o| (self.order_words(&o), o))
                .collect();
            offers.push(Offer { verb, label: label.into(), group, blocked, ready });
        };
        let sites = [Site::RightFemoral, Site::LeftFemoral, Site::LeftBrachial];
        add("brief", "Brief the team", "team", None, vec![Order::Brief { items: BriefItem::ALL.to_vec() }]);
        let roles = self.case.case.team.iter().filter(|m| m.arrives.is_some());
        add(
            "call",
            "Call somebody",
            "team",
            None,
            roles.map(|m| Order::Call { who: m.role.clone() }).collect(),
        );
        add("note", "Write a note", "team", None, Vec::new());
        let extents = [CtExtent::WholeAorta, CtExtent::Chest];
        add(
            "read_ct",
            "Read the CT",
            "picture",
            None,
            extents.map(|extent| Order::ReadCt { extent }).to_vec(),
        );
        let unread = (w.ct.is_none() && w.picture.runs.is_empty())
            .then(|| "no CT has been read and no run taken yet".to_string());
        add("measure", "Commit a measurement", "picture", unread, Vec::new());
        add("aim", "Turn the C-arm", "picture", None, Vec::new());
        add("screen", "Fluoroscopy", "picture", None, vec![Order::Screen { on: !w.picture.screening }]);
        add(
            "lock_table",
            "Lock the table",
            "picture",
            None,
            vec![Order::LockTable { on: !w.picture.table_locked }],
        );
        let panned = w.picture.panned_mm();
        let home = Order::Pan { left_mm: -panned[0], head_mm: -panned[1] };
        let back = panned.iter().any(|mm| mm.abs() > 0.5).then_some(home);
        let by = |left_mm, head_mm| Order::Pan { left_mm, head_mm };
        let steps = [by(0.0, 50.0), by(0.0, -50.0), by(30.0, 0.0), by(-30.0, 0.0)];
        add("pan", "Move the table", "picture", None, steps.into_iter().chain(back).collect());
        let other = |mm: &f64| (mm - w.picture.pose.field_mm).abs() > 1.0;
        let fields = [480.0, 380.0, 320.0, 220.0, 160.0].into_iter().filter(other);
        let fields = fields.map(|edge_mm| Order::Field { edge_mm }).collect();
        add("field", "Size of the field", "picture", None, fields);
        let closed = w.picture.pose.shutter.open_fraction() < 1.0;
        let sides = [0.0, 20.0].into_iter().filter(|s| closed || *s > 0.0);
        let shutters = sides.map(|sides| Order::Collimate {
            left_percent: sides,
            right_percent: sides,
            top_percent: 0.0,
            bottom_percent: 0.0,
        });
        add("collimate", "Shutters", "picture", None, shutters.collect());
        let rates = w.picture.dose.rates;
        let rate = |screening_per_s, runs_per_s| Order::FrameRate { screening_per_s, runs_per_s };
        let rates = [(7.5, 3.0), (15.0, 3.0), (15.0, 6.0)]
            .into_iter()
            .filter(|r| *r != (rates.screening_per_s, rates.runs_per_s))
            .map(|(s, r)| rate(s, r));
        add("frame_rate", "Frame rate", "picture", None, rates.collect());
        add("run", "Run with contrast", "picture", no_line(), Vec::new());
        add("mark", "Mark a place", "picture", None, Vec::new());
        let guide = Guide::Ultrasound;
        add(
            "puncture",
            "Open an access",
            "access",
            None,
            sites.map(|site| Order::Puncture { site, guide }).to_vec(),
        );
        let how = Closure::Sutures;
        let mut close: Vec<Order> = open.iter().map(|&site| Order::Close { site, how }).collect();
        // A puncture that bleeds is closed again, by hand or by the surgeon.
        for site in Site::ALL.into_iter().filter(|s| w.bleeds_at(*s) && !open.contains(s)) {
            close.extend([Closure::Pressure, Closure::Surgical].map(|how| Order::Close { site, how }));
        }
        add("close", "Close an access", "access", no_line().filter(|_| close.is_empty()), close);
        add("insert", "Put a device on a line", "lines", no_line(), Vec::new());
        add("move", "Move a tip along the rail", "lines", no_line(), Vec::new());
        add("exchange", "Exchange, keeping the place", "lines", no_line(), Vec::new());
        let on_lines: Vec<(Site, String)> = w
            .lines
            .iter()
            .filter(|(_, l)| !l.closed)
            .flat_map(|(s, l)| l.items().iter().map(|i| (*s, i.device.clone())))
            .collect();
        let remove = on_lines.iter().map(|(s, d)| Order::Remove { site: *s, device: d.clone() }).collect();
        add("remove", "Take a device out", "lines", no_line(), remove);
        let loaded: Vec<Site> = w
            .lines
            .iter()
            .filter(|(s, l)| l.loaded_graft(&self.case.shelf).is_some() || w.loaded_stent(**s).is_some())
            .map(|(s, _)| *s)
            .collect();
        let no_graft = || loaded.is_empty().then(|| "no graft lies on a line".to_string());
        let unsheathe = loaded.iter().map(|&site| Order::Unsheathe { site, by_mm: None }).collect();
        add("unsheathe", "Unsheathe the graft", "deploy", no_graft(), unsheathe);
        let release = loaded.iter().map(|&site| Order::ReleaseTip { site }).collect();
        add("release_tip", "Release the tip", "deploy", no_graft(), release);
        let balloons: Vec<&(Site, String)> = on_lines
            .iter()
            .filter(|(_, d)| matches!(self.case.shelf.get(d).map(|s| &s.device), Some(Device::Balloon(_))))
            .collect();
        let no_balloon = || balloons.is_empty().then(|| "no balloon lies on a line".to_string());
        add("inflate", "Fill a balloon", "deploy", no_balloon(), Vec::new());
        let deflate = balloons.iter().map(|(s, d)| Order::Deflate { site: *s, device: d.clone() }).collect();
        add("deflate", "Empty a balloon", "deploy", no_balloon(), deflate);
        add("embolise", "Embolise a vessel", "deploy", no_line(), Vec::new());
        add("stent_branch", "Stent a branch", "deploy", no_line(), Vec::new());
        for (verb, label) in [
            ("give", "Give a drug"),
            ("infuse", "Run an infusion"),
            ("transfuse", "Fluid and blood"),
            ("keep_systolic", "Keep the systolic between"),
            ("anaesthetise", "Anaesthesia"),
            ("csf_drain", "Spinal fluid drain"),
            ("lab", "Send a laboratory test"),
        ] {
            add(verb, label, "patient", None, Vec::new());
        }
        let pace = if w.pacing.is_some() { None } else { Some(180.0) };
        add("pace", "Rapid pacing", "patient", None, vec![Order::Pace { bpm: pace }]);
        add(
            "breath_hold",
            "Hold the breath",
            "patient",
            None,
            vec![Order::BreathHold { on: true }, Order::BreathHold { on: false }],
        );
        add("warm", "Warm", "patient", None, vec![Order::Warm { on: true }]);
        add("chest_drain", "Chest drain", "patient", None, vec![Order::ChestDrain]);
        add("open_belly", "Open the belly", "patient", None, vec![Order::OpenBelly]);
        let bypass = [VesselName::LeftSubclavian, VesselName::LeftCarotid]
            .map(|vessel| Order::Revascularise { vessel });
        add("revascularise", "Bypass to a branch", "patient", None, bypass.to_vec());
        add("hand_over", "Hand over to the ward", "team", None, Vec::new());
        let not_ward =
            (!w.on_ward).then(|| "the patient is not on the ward yet: hand over first".to_string());
        add(
            "recover",
            "Let hours pass on the ward",
            "team",
            not_ward,
            [1.0, 6.0, 24.0].map(|hours| Order::Recover { hours }).to_vec(),
        );
        offers
    }
}

/// The options as dealt with a seed, id and words: where an author wrote one must not give it away.
pub fn dealt(ask: &Ask, seed: u64) -> Vec<(String, String)> {
    let mut options: Vec<_> = ask.options.iter().map(|o| (o.id.clone(), o.say.clone())).collect();
    let mut stream = Streams::new(seed).named(&format!("dealt/{}", ask.id));
    for i in (1..options.len()).rev() {
        options.swap(i, stream.below(i as u32 + 1) as usize);
    }
    options
}

/// A device's sort.
pub fn kind(device: &Device) -> &'static str {
    match device {
        Device::Wire(_) => "wire",
        Device::Catheter(_) => "catheter",
        Device::Sheath(_) => "sheath",
        Device::Graft(_) => "graft",
        Device::Balloon(_) => "balloon",
        Device::Stent(_) => "stent",
        Device::Coil(_) => "coil",
        Device::Plug(_) => "plug",
        Device::Particles(_) => "particles",
        Device::Closure(_) => "closure",
    }
}

/// Iodine outside the vessels that an eye finds beside the aorta, mg (assumed: some 5 mg/ml in 10 ml).
const RUNS_OUT_MG: f64 = 50.0;

/// What a run shows, in words made from its contrast curves: no diagnosis, only what fills, when and from where.
pub fn seen(f: &RunFacts) -> Vec<String> {
    let mut out = Vec::new();
    if !f.filled.is_empty() {
        let names: Vec<&str> = f.filled.iter().map(|v| v.label()).collect();
        out.push(format!("filled: {}", names.join(", ")));
    }
    if f.sac_opacity > 0.02 {
        let depth = match f.sac_opacity {
            o if o > 0.5 => "the sac fills densely",
            o if o > 0.15 => "the sac fills",
            _ => "a faint blush in the sac",
        };
        let when = match f.sac_delay_s {
            d if d < 1.0 => "at once".into(),
            d => format!("{d:.1} s after the aorta"),
        };
        out.push(format!("{depth}, {when}{}", from_words(f)));
    } else if f.sac_delay_s < 0.0 {
        out.push("the sac stays dark".into());
    }
    if f.outside_mg > RUNS_OUT_MG {
        out.push("contrast runs out of the aorta".into());
    }
    if f.motion_mm > 1.0 {
        out.push(format!("blurred: things moved {:.0} mm between mask and filling", f.motion_mm));
    }
    if f.off_profile_deg > 20.0 {
        out.push(format!(
            "the landing zone is foreshortened ({})",
            tell::angles(f.pose_deg[0], f.pose_deg[1])
        ));
    }
    out
}

fn from_words(f: &RunFacts) -> String {
    if f.sac_from.is_empty() { String::new() } else { format!(", from {}", f.sac_from) }
}
