//! How strongly each material stops X-rays at the beam's effective energy.
//!
//! Mass coefficients: xraylib 4 (Schoonjans et al., Spectrochim. Acta B 66:776, 2011), total cross sections; tissues are
//! the ICRP compositions. Tables are read log-log and never across an absorption edge.
//! One energy stands for the whole beam: there is no beam hardening.

use crate::math::ops;

/// What a thing is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[expect(missing_docs, reason = "each variant is the material's name")]
pub enum Material {
    Water,
    Iodine,
    SoftTissue,
    Blood,
    Fat,
    CorticalBone,
    InflatedLung,
    Hydroxyapatite,
    Nitinol,
    Steel,
    Platinum,
    Tantalum,
    /// Plain polymer, as in fabric and shafts.
    Polymer,
    /// Catheter polymer loaded with a radiopaque filler.
    LoadedPolymer,
    Air,
}

/// Energies of the mass coefficients' table, keV. Pairs bracket the K edges of iodine (33.17) and platinum (78.39).
const ENERGY_KEV: [f64; 19] = [
    30.0, 33.1, 33.2, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0, 65.0, 70.0, 78.3, 78.5, 80.0, 90.0, 100.0, 110.0,
    120.0, 140.0,
];

#[rustfmt::skip]
mod mass {
    pub const WATER: [f64; 19] = [0.3756, 0.3287, 0.3275, 0.3075, 0.2683, 0.2436, 0.227, 0.215, 0.2059, 0.1987, 0.1929, 0.1851, 0.1849, 0.1837, 0.1766, 0.1708, 0.1658, 0.1614, 0.1539];
    pub const IODINE: [f64; 19] = [8.562, 6.59, 35.74, 31.2, 22.1, 16.26, 12.32, 9.563, 7.577, 6.116, 5.016, 3.717, 3.692, 3.51, 2.565, 1.942, 1.515, 1.211, 0.8243];
    pub const SOFT: [f64; 19] = [0.3618, 0.3182, 0.3171, 0.2984, 0.2618, 0.2387, 0.223, 0.2117, 0.203, 0.1962, 0.1906, 0.1831, 0.1829, 0.1817, 0.1749, 0.1692, 0.1643, 0.16, 0.1526];
    pub const BLOOD: [f64; 19] = [0.3804, 0.332, 0.3307, 0.31, 0.2694, 0.2439, 0.2267, 0.2144, 0.2051, 0.1977, 0.1917, 0.1838, 0.1836, 0.1824, 0.1752, 0.1694, 0.1644, 0.16, 0.1525];
    pub const FAT: [f64; 19] = [0.3028, 0.2751, 0.2744, 0.2625, 0.2386, 0.2231, 0.2122, 0.2041, 0.1977, 0.1924, 0.188, 0.1817, 0.1816, 0.1806, 0.1746, 0.1695, 0.165, 0.1609, 0.1538];
    pub const BONE: [f64; 19] = [1.28, 1.001, 0.9934, 0.8747, 0.6451, 0.5052, 0.4148, 0.3535, 0.3102, 0.2786, 0.2549, 0.2266, 0.2261, 0.2221, 0.2008, 0.186, 0.1751, 0.1666, 0.1541];
    pub const LUNG: [f64; 19] = [0.382, 0.3331, 0.3318, 0.3109, 0.27, 0.2443, 0.227, 0.2145, 0.2052, 0.1978, 0.1918, 0.1838, 0.1836, 0.1824, 0.1752, 0.1693, 0.1643, 0.1599, 0.1524];
    pub const HYDROXYAPATITE: [f64; 19] = [2.099, 1.61, 1.597, 1.389, 0.9876, 0.7436, 0.5867, 0.4808, 0.4067, 0.3531, 0.3131, 0.2664, 0.2655, 0.2589, 0.2248, 0.2019, 0.1856, 0.1734, 0.1564];
    pub const NITINOL: [f64; 19] = [7.93, 6.005, 5.954, 5.13, 3.527, 2.544, 1.908, 1.477, 1.176, 0.9595, 0.7991, 0.6136, 0.61, 0.5844, 0.4525, 0.3667, 0.3083, 0.2668, 0.2135];
    pub const STEEL: [f64; 19] = [8.167, 6.182, 6.129, 5.279, 3.626, 2.612, 1.957, 1.514, 1.204, 0.9813, 0.8162, 0.6254, 0.6217, 0.5953, 0.4599, 0.3719, 0.312, 0.2695, 0.2149];
    pub const PLATINUM: [f64; 19] = [26.42, 20.41, 20.24, 17.63, 12.45, 9.145, 6.954, 5.43, 4.34, 3.534, 2.927, 2.21, 9.335, 8.732, 6.289, 4.993, 3.998, 3.213, 2.147];
    pub const TANTALUM: [f64; 19] = [21.88, 16.87, 16.73, 14.56, 10.25, 7.525, 5.718, 4.464, 3.569, 2.909, 10.7, 8.017, 7.965, 7.588, 5.621, 4.3, 3.371, 2.698, 1.821];
    pub const POLYMER: [f64; 19] = [0.2707, 0.2524, 0.2519, 0.2439, 0.2275, 0.2165, 0.2085, 0.2022, 0.197, 0.1927, 0.1888, 0.1834, 0.1832, 0.1823, 0.1768, 0.172, 0.1676, 0.1636, 0.1566];
    pub const AIR: [f64; 19] = [0.3538, 0.3078, 0.3066, 0.2869, 0.2485, 0.2243, 0.208, 0.1963, 0.1875, 0.1806, 0.175, 0.1676, 0.1674, 0.1662, 0.1596, 0.1541, 0.1495, 0.1455, 0.1386];
}

impl Material {
    /// Density, g/cm³ (iodine: 1, so that its linear coefficient is that of 1 g/ml).
    pub fn density_g_cm3(self) -> f64 {
        match self {
            Self::Water | Self::Iodine | Self::SoftTissue => 1.0,
            Self::Blood => 1.06,
            Self::Fat => 0.92,
            Self::CorticalBone => 1.85,
            // ICRP lung at the density of a held inspiration (ICRP 23: 0.26).
            Self::InflatedLung => 0.26,
            Self::Hydroxyapatite => 3.16,
            Self::Nitinol => 6.45,
            Self::Steel => 7.9,
            Self::Platinum => 21.45,
            Self::Tantalum => 16.65,
            Self::Polymer => 1.1,
            // Assumed: polymer with 15 % by weight of a barium salt's barium.
            Self::LoadedPolymer => 1.6,
            Self::Air => 0.0012,
        }
    }

    /// Mass attenuation coefficient at `kev` (30 to 140; clamped), cm²/g.
    pub fn mass_cm2_g(self, kev: f64) -> f64 {
        let table = match self {
            Self::Water => &mass::WATER,
            Self::Iodine => &mass::IODINE,
            Self::SoftTissue => &mass::SOFT,
            Self::Blood => &mass::BLOOD,
            Self::Fat => &mass::FAT,
            Self::CorticalBone => &mass::BONE,
            Self::InflatedLung => &mass::LUNG,
            Self::Hydroxyapatite => &mass::HYDROXYAPATITE,
            Self::Nitinol => &mass::NITINOL,
            Self::Steel => &mass::STEEL,
            Self::Platinum => &mass::PLATINUM,
            Self::Tantalum => &mass::TANTALUM,
            Self::Polymer => &mass::POLYMER,
            // Barium lies three places after iodine; its curve above 40 keV is 1.1 times iodine's to a tenth (from memory).
            Self::LoadedPolymer => {
                return 0.85 * Self::Polymer.mass_cm2_g(kev) + 0.15 * Self::Iodine.mass_cm2_g(kev) * 1.1;
            }
            Self::Air => &mass::AIR,
        };
        let kev = kev.clamp(ENERGY_KEV[0], ENERGY_KEV[18]);
        let after = ENERGY_KEV.partition_point(|&e| e <= kev).clamp(1, 18);
        let (a, b) = (after - 1, after);
        let u = ops::ln(kev / ENERGY_KEV[a]) / ops::ln(ENERGY_KEV[b] / ENERGY_KEV[a]);
        ops::exp(ops::ln(table[a]) + u * ops::ln(table[b] / table[a]))
    }

    /// Linear attenuation coefficient at `kev`, 1/cm.
    pub fn linear_per_cm(self, kev: f64) -> f64 {
        self.mass_cm2_g(kev) * self.density_g_cm3()
    }
}

/// The X-ray beam: tube voltage behind 2.5 mm aluminium and 0.2 mm copper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beam {
    /// Tube voltage, kV, 60 to 120.
    pub kvp: f64,
}

impl Default for Beam {
    fn default() -> Self {
        Self { kvp: 80.0 }
    }
}

/// Tube voltage; energy-weighted mean behind 20 cm of water, keV; air kerma per charge at 1 m, uGy/mAs.
/// SpekPy 2 (Poludniowski et al., Med. Phys. 48:3630, 2021), 12 degree tungsten anode, 2.5 mm Al + 0.2 mm Cu.
const BEAM: [(f64, f64, f64); 6] = [
    (60.0, 48.36, 10.03),
    (70.0, 54.10, 16.50),
    (80.0, 59.56, 24.75),
    (90.0, 64.36, 34.66),
    (100.0, 68.91, 45.97),
    (120.0, 77.87, 72.49),
];

impl Beam {
    fn row(&self, pick: impl Fn(&(f64, f64, f64)) -> f64) -> f64 {
        crate::math::interp::linear(&BEAM.map(|r| (r.0, pick(&r))), self.kvp)
    }
    /// The one energy that stands for the beam behind the patient, keV.
    pub fn effective_kev(&self) -> f64 {
        self.row(|r| r.1)
    }
    /// Air kerma at 1 m per tube charge, uGy/mAs.
    pub fn kerma_ugy_per_mas_at_1m(&self) -> f64 {
        self.row(|r| r.2)
    }
    /// Linear attenuation of `material`, 1/cm.
    pub fn mu(&self, material: Material) -> f64 {
        material.linear_per_cm(self.effective_kev())
    }
    /// Attenuation of dissolved iodine, 1/cm per mg/ml.
    pub fn mu_iodine(&self) -> f64 {
        self.mu(Material::Iodine) * 1e-3
    }
}
