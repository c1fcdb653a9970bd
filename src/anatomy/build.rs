//! From a sizing sheet to a vessel tree.

use super::around::theta_of;
use super::course::Course;
use super::profile::Profile;
use super::spec::{AccessSpec, AnatomySpec, BranchSpec, CentrelineSpec, Landmark, Place, Toward};
use super::{
    Lumen, Root, Tree, Vessel, VesselName, Wall, WallLaw, branches, dissection, import, lesion, normal,
};
use crate::math::{Curve, Vec3, interp, ops};
use VesselName::*;

/// Branches of the aorta above the bifurcation: (name, usual side).
const AORTIC: [(VesselName, Toward); 9] = [
    (Innominate, Toward::Outer),
    (LeftCarotid, Toward::Outer),
    (LeftSubclavian, Toward::Outer),
    (Intercostals, Toward::Clock(5.3)),
    (Coeliac, Toward::Clock(12.0)),
    (Sma, Toward::Clock(12.3)),
    (LeftRenal, Toward::Clock(3.2)),
    (RightRenal, Toward::Clock(9.6)),
    (Ima, Toward::Clock(1.2)),
];

/// Angles in a ring of a branch.
const BRANCH_THETA: usize = 24;
/// Spacing of a branch's stations, mm.
const BRANCH_STEP_MM: f64 = 1.5;

impl AnatomySpec {
    /// The vessels that this sheet describes; or everything that is wrong with it, in plain words.
    pub fn build(&self) -> Result<Tree, Vec<String>> {
        self.build_with(|name| Err(format!("the file \"{name}\" cannot be read from here")))
    }

    /// As [`build`](Self::build), with a reader for the centreline table that the sheet may name.
    pub fn build_with(&self, read: impl Fn(&str) -> Result<String, String>) -> Result<Tree, Vec<String>> {
        let faults = self.faults();
        if !faults.is_empty() {
            return Err(faults);
        }
        if let Some(c) = &self.centreline {
            let base = self.imported(c, read).map_err(|faults| {
                faults
                    .into_iter()
                    .map(|f| format!("anatomy, centreline \"{}\": {f}", c.file))
                    .collect::<Vec<_>>()
            })?;
            return self.build_on(base);
        }
        let course = Course::new(self).map_err(|fault| vec![fault])?;
        let base = Builder { spec: self, course, vessels: Vec::new(), faults: Vec::new() }.tree()?;
        self.build_on(base)
    }

    fn imported(
        &self,
        spec: &CentrelineSpec,
        read: impl Fn(&str) -> Result<String, String>,
    ) -> Result<Tree, Vec<String>> {
        let lines =
            read(&spec.file).and_then(|text| import::read(&text, spec.axes)).map_err(|fault| vec![fault])?;
        let mut names = spec.vessels.clone();
        if names.is_empty() {
            let known = |label: &str| ron::from_str::<VesselName>(label).ok();
            let unknown = || "name its vessels, in the table or under \"vessels\"".to_owned();
            let named =
                lines.iter().map(|l| known(&l.label).ok_or_else(unknown)).collect::<Result<Vec<_>, _>>();
            names = named.map_err(|fault| vec![fault])?;
        }
        let mut tree = import::tree(&lines, &names, self.map_at_ct_mmhg, self.n_theta)?;
        tree.vessels[0].wall.law = self.law();
        let place = |name, or: f64| tree.ostium_s_mm(name).unwrap_or(or * tree.aorta().curve.length_mm());
        let (subclavian, coeliac) = (place(LeftSubclavian, 0.25), place(Coeliac, 0.7));
        tree.vessels[0].wall.segmentals = segmentals(&tree.aorta().curve, subclavian, coeliac);
        Ok(tree)
    }

    fn law(&self) -> WallLaw {
        match self.give_percent {
            Some(percent) => WallLaw::giving_percent(percent),
            None => WallLaw::of_age(self.age_years, self.sex),
        }
    }

    /// A base from elsewhere, such as a centreline table, with this sheet's lesions, calcium, thrombus and
    /// dissection.
    pub fn build_on(&self, mut base: Tree) -> Result<Tree, Vec<String>> {
        let mut faults = self.faults();
        for (i, r) in self.resize.iter().enumerate() {
            match locate(&base, r.vessel, r.at, &format!("resize {}", i + 1)) {
                Ok((index, at_mm)) => lesion::resize(r, at_mm, &mut base.vessels[index]),
                Err(fault) => faults.push(fault),
            }
        }
        for (i, l) in self.lesions.iter().enumerate() {
            match locate(&base, l.vessel, l.at, &format!("lesion {}", i + 1)) {
                Ok((index, at_mm)) => {
                    let mark = lesion::apply(l, at_mm, &mut base.vessels[index]);
                    base.vessels[index].wall.lesions.push(mark);
                }
                Err(fault) => faults.push(fault),
            }
        }
        for v in base.vessels.iter_mut().filter(|v| !v.wall.lesions.is_empty()) {
            lesion::unfold(v);
        }
        for (i, p) in self.thrombus.iter().enumerate() {
            match locate(&base, p.vessel, p.at, &format!("thrombus {}", i + 1)) {
                Ok((index, at_mm)) => lesion::line(p, at_mm, &mut base.vessels[index]),
                Err(fault) => faults.push(fault),
            }
        }
        for (i, p) in self.calcium.iter().enumerate() {
            match locate(&base, p.vessel, p.at, &format!("calcium {}", i + 1)) {
                Ok((index, at_mm)) => lesion::calcify(p, at_mm, &mut base.vessels[index]),
                Err(fault) => faults.push(fault),
            }
        }
        if faults.is_empty()
            && let Some(d) = &self.dissection
        {
            faults.extend(dissection::split(d, &mut base).err());
        }
        if faults.is_empty() { Ok(base) } else { Err(faults) }
    }

    fn branch(&self, name: VesselName) -> Option<&BranchSpec> {
        self.branches.iter().find(|b| b.vessel == name)
    }
}

/// Index of the vessel and arc length on it.
pub(super) fn locate(tree: &Tree, vessel: VesselName, at: Place, who: &str) -> Result<(usize, f64), String> {
    let index =
        tree.index(vessel).ok_or(format!("anatomy, {who}: this patient has no {}", vessel.label()))?;
    let length = tree.vessels[index].curve.length_mm();
    let s = match at {
        Place::Mm(s) => s,
        Place::Past(branch, by) => {
            let root = tree.get(branch).and_then(|b| b.root).filter(|r| r.parent == index);
            let root = root.ok_or(format!(
                "anatomy, {who}: the {} does not leave the {}; name a branch that does, or write mm(…)",
                branch.label(),
                vessel.label()
            ))?;
            root.s_mm + by
        }
    };
    if (0.0..=length).contains(&s) {
        Ok((index, s))
    } else {
        Err(format!(
            "anatomy, {who}: {s:.0} mm lies off the {}, which is {length:.0} mm long",
            vessel.label()
        ))
    }
}

struct Builder<'a> {
    spec: &'a AnatomySpec,
    course: Course,
    vessels: Vec<Vessel>,
    faults: Vec<String>,
}

impl Builder<'_> {
    fn tree(mut self) -> Result<Tree, Vec<String>> {
        let aorta = self.aorta();
        self.vessels.push(aorta);
        for (name, side) in AORTIC {
            self.aortic_branch(name, side);
        }
        self.carry_on(RightCarotid, Innominate, None);
        self.carry_on(RightSubclavian, Innominate, None);
        self.carry_on(RightVertebral, RightSubclavian, Some(normal::vertebral_at_mm(true)));
        self.carry_on(LeftVertebral, LeftSubclavian, Some(normal::vertebral_at_mm(false)));
        self.legs([RightCommonIliac, RightExternalIliac, RightInternalIliac], &self.spec.right_access);
        self.legs([LeftCommonIliac, LeftExternalIliac, LeftInternalIliac], &self.spec.left_access);
        if self.faults.is_empty() {
            Ok(Tree { vessels: self.vessels, reference_map_mmhg: self.spec.map_at_ct_mmhg })
        } else {
            Err(self.faults)
        }
    }

    fn aorta(&self) -> Vessel {
        use Landmark::*;
        let all = [
            Annulus,
            Sinus,
            Ascending,
            PreInnominate,
            ProximalArch,
            DistalArch,
            Isthmus,
            MidDescending,
            Diaphragm,
            Coeliac,
            Suprarenal,
            Infrarenal,
            Bifurcation,
        ];
        let diameter = |l: Landmark| {
            let written = self.spec.aorta.diameters_mm.get(&l).copied();
            written.unwrap_or_else(|| normal::aorta_mm(l, self.spec.age_years, self.spec.sex))
        };
        let profile = Profile::new(&all.map(|l| (self.course.landmark(l), diameter(l))));
        // The polygon of a ring is a little smaller than its circle: widen it, so that the area is the one
        // written.
        let n = self.spec.n_theta as f64;
        let fill = (std::f64::consts::TAU / n / ops::sin(std::f64::consts::TAU / n)).sqrt();
        let squash = 1.0 + 0.5 * self.spec.ellipticity_percent / 100.0;
        let radius = |s: f64, theta: f64| {
            let (sin, cos) = ops::sin_cos(theta - 0.6);
            let (a, b) = (squash, 1.0 / squash);
            0.5 * fill * profile.at(s) / ((cos / a) * (cos / a) + (sin / b) * (sin / b)).sqrt()
        };
        let curve = self.course.curve.clone();
        let lumen = Lumen::sample(curve.length_mm(), self.spec.step_mm, self.spec.n_theta, radius);
        let c = &self.course;
        let segmentals = segmentals(&curve, c.left_subclavian, c.coeliac);
        let wall = Wall { segmentals, law: self.spec.law(), ..Wall::default() };
        Vessel { name: Aorta, curve, lumen, wall, root: None }
    }

    /// Diameters at start and end, and length, with what the sheet says of this branch.
    fn size(&self, name: VesselName) -> (f64, f64, f64) {
        let (start, end, length) = normal::branch_mm(name, self.spec.sex, self.spec.height_cm);
        match self.spec.branch(name).and_then(|b| b.diameter_mm) {
            Some(mm) => (mm, end * mm / start, length),
            None => (start, end, length),
        }
    }

    fn absent(&self, name: VesselName) -> bool {
        self.spec.branch(name).is_some_and(|b| b.absent)
    }

    fn aortic_branch(&mut self, name: VesselName, usual: Toward) {
        let Some(s_mm) = self.course.origin(name).filter(|_| !self.absent(name)) else { return };
        let aorta = &self.vessels[0];
        let toward = self.spec.branch(name).and_then(|b| b.toward).unwrap_or(usual);
        let theta_rad = theta_of(&aorta.curve, s_mm, toward);
        let frame = aorta.curve.frame(s_mm);
        let out = frame.radial(theta_rad);
        // The centreline begins inside the parent, halfway to its wall, so that the two lumens overlap.
        let inside = 0.5 * aorta.lumen.radius(s_mm, theta_rad);
        let (start_mm, end_mm, length_mm) = self.size(name);
        let root = Root { parent: 0, s_mm, theta_rad, radius_mm: 0.5 * start_mm };
        self.add(
            name,
            frame.at + out * inside,
            out,
            length_mm + inside,
            &[(0.0, start_mm), (1.0, end_mm)],
            root,
        );
    }

    /// A branch that leaves a branch: at its end, or `at_mm` along it.
    fn carry_on(&mut self, name: VesselName, parent: VesselName, at_mm: Option<f64>) {
        let Some(index) = self.vessels.iter().position(|v| v.name == parent).filter(|_| !self.absent(name))
        else {
            return;
        };
        let curve = &self.vessels[index].curve;
        let s_mm = at_mm.unwrap_or(f64::INFINITY).min(curve.length_mm());
        let frame = curve.frame(s_mm);
        let (start_mm, end_mm, length_mm) = self.size(name);
        let up = Vec3::new(0.0, 0.0, 1.0);
        let heading = if at_mm.is_some() { up.reject(frame.tangent).unit() } else { frame.tangent };
        let root = Root { parent: index, s_mm, theta_rad: frame.angle_of(up), radius_mm: 0.5 * start_mm };
        self.add(name, frame.at, heading, length_mm, &[(0.0, start_mm), (1.0, end_mm)], root);
    }

    fn legs(&mut self, [common, external, internal]: [VesselName; 3], access: &AccessSpec) {
        let aorta = &self.vessels[0].curve;
        let end = aorta.frame(aorta.length_mm());
        let right = common == RightCommonIliac;
        let aside = Vec3::new(if right { -1.0 } else { 1.0 }, 0.0, 0.0);
        let (common_start, common_end, common_length) = self.size(common);
        let (external_start, femoral, external_length) = self.size(external);
        let common_mm = access.common_iliac_mm.unwrap_or(common_start);
        let external_mm = access.external_iliac_mm.unwrap_or(external_start);
        let femoral_mm = access.femoral_mm.unwrap_or(femoral);
        let lengths = [common_length, external_length];
        let courses = branches::iliacs(common, external, end.at, end.tangent, lengths, access.tortuosity);
        let [first, second] = match courses {
            Ok(c) => c,
            Err(fault) => return self.faults.push(fault),
        };
        let root = Root {
            parent: 0,
            s_mm: aorta.length_mm(),
            theta_rad: end.angle_of(aside),
            radius_mm: 0.5 * common_mm,
        };
        let narrowing = common_mm * common_end / common_start;
        let from = self.push(
            common,
            first,
            &[(0.0, common_mm), (0.6, common_mm), (1.0, narrowing)],
            root,
            access.calcium,
        );
        let joint = |v: &Vessel| v.curve.frame(v.curve.length_mm());
        let fork = joint(&self.vessels[from]);
        let s_mm = self.vessels[from].curve.length_mm();
        // The last 35 mm lie below the inguinal ligament.
        let ligament = 1.0 - 35.0 / second.length_mm();
        let leg =
            [(0.0, external_mm), (ligament - 0.1, external_mm), (ligament, femoral_mm), (1.0, femoral_mm)];
        let root = Root { parent: from, s_mm, theta_rad: 0.0, radius_mm: 0.5 * external_mm };
        self.push(external, second, &leg, root, access.calcium);
        if !self.absent(internal) {
            let (start, end_mm, length) = self.size(internal);
            let mm = access.internal_iliac_mm.unwrap_or(start);
            let back = Vec3::new(0.0, 1.0, 0.0).reject(fork.tangent).unit();
            let root = Root { parent: from, s_mm, theta_rad: fork.angle_of(back), radius_mm: 0.5 * mm };
            self.add(internal, fork.at, back, length, &[(0.0, mm), (1.0, mm * end_mm / start)], root);
        }
    }

    fn add(
        &mut self,
        name: VesselName,
        start: Vec3,
        heading: Vec3,
        length_mm: f64,
        diameters: &[(f64, f64)],
        root: Root,
    ) {
        match branches::course(name, start, heading, length_mm) {
            Some(curve) => {
                self.push(name, curve, diameters, root, 0.0);
            }
            None => self.faults.push(format!("anatomy, {}: its course cannot be drawn", name.label())),
        }
    }

    /// `diameters`: (part of the length, mm). Returns the index.
    fn push(
        &mut self,
        name: VesselName,
        curve: Curve,
        diameters: &[(f64, f64)],
        mut root: Root,
        calcium: f64,
    ) -> usize {
        let length = curve.length_mm();
        let profile = Profile::new(&diameters.iter().map(|&(t, mm)| (t * length, mm)).collect::<Vec<_>>());
        let closed = self.spec.branch(name).map_or(0.0, |b| b.stenosis_percent / 100.0);
        root.radius_mm = (root.radius_mm * (1.0 - closed)).max(0.05);
        // A narrowing at the origin reaches about a centimetre into the branch.
        let open = |s: f64| {
            1.0 - closed * (1.0 - interp::smooth_step(4.0, 14.0, s - ostium_depth(&self.vessels, &root)))
        };
        let radius = |s: f64, _theta: f64| (0.5 * profile.at(s) * open(s)).max(0.05);
        let lumen = Lumen::sample(length, BRANCH_STEP_MM, BRANCH_THETA, radius);
        let cells = lumen.stations() * lumen.n_theta();
        let wall = Wall {
            calcium: if calcium > 0.0 { vec![calcium; cells] } else { Vec::new() },
            ..Wall::default()
        };
        self.vessels.push(Vessel { name, curve, lumen, wall, root: Some(root) });
        self.vessels.len() - 1
    }
}

/// How far along its own centreline a branch of the aorta meets the aortic wall, mm.
fn ostium_depth(vessels: &[Vessel], root: &Root) -> f64 {
    let aorta = &vessels[0];
    let side_branch = root.parent == 0 && root.s_mm < aorta.curve.length_mm();
    if side_branch { 0.5 * aorta.lumen.radius(root.s_mm, root.theta_rad) } else { 0.0 }
}

/// Nine thoracic pairs (T4 to T12) and four lumbar pairs, evenly spaced, from the back wall.
fn segmentals(curve: &Curve, left_subclavian: f64, coeliac: f64) -> Vec<Root> {
    let spread =
        |from: f64, to: f64, n: usize| (0..n).map(move |i| from + (to - from) * i as f64 / (n - 1) as f64);
    let thoracic = spread(left_subclavian + 25.0, coeliac - 8.0, 9);
    let lumbar = spread(coeliac + 15.0, curve.length_mm() - 15.0, 4);
    let pair = |s_mm: f64| {
        [7.0, 5.0].map(|clock| {
            let theta_rad = theta_of(curve, s_mm, Toward::Clock(clock));
            // 1.05 mm: between the benchmark tree's 1.4 to 1.55 mm and common practice of 1 to 2 mm across.
            Root { parent: 0, s_mm, theta_rad, radius_mm: 1.05 }
        })
    };
    thoracic.chain(lumbar).flat_map(pair).collect()
}
