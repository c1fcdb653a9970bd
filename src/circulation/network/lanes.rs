//! Lanes: a network on its own becomes one of several side by side, and leaves again, bit for bit.

use super::Network;

macro_rules! per_lane {
    ($all:expr, $one:expr, $k:expr, $copy:ident: $($field:ident)*) => {
        $( for (all, one) in $all.$field.iter_mut().zip($one.$field.iter_mut()) { $copy!(all, one, $k); } )*
    };
}
macro_rules! gather {
    ($all:expr, $one:expr, $k:expr) => {
        $all[$k] = $one[0]
    };
}
macro_rules! scatter {
    ($all:expr, $one:expr, $k:expr) => {
        $one[0] = $all[$k]
    };
}
macro_rules! every_field {
    ($all:expr, $one:expr, $k:expr, $copy:ident) => {
        per_lane!($all, $one, $k, $copy: v_ml p_mmhg v_u_ml inv_c viscosity growth_ml_s through_links p_ext_mmhg floor_mmhg
            source_ml_s pipe_q_ml_s pipe_r pipe_k pipe_inv_l pipe_keep pipe_gain link_g orifice_ends orifice_r orifice_k
            orifice_back orifice_q_ml_s);
        per_lane!($all.sums, $one.sums, $k, $copy: p pipe valve);
        for (all, one) in $all.chambers.iter_mut().zip($one.chambers.iter_mut()) {
            $copy!(all.e_max, one.e_max, $k);
            $copy!(all.e_min, one.e_min, $k);
            $copy!(all.p0, one.p0, $k);
            $copy!(all.k_e, one.k_e, $k);
            $copy!(all.v_u, one.v_u, $k);
        }
        for (all, one) in $all.valves.iter_mut().zip($one.valves.iter_mut()) {
            $copy!(all.r, one.r, $k);
            $copy!(all.r_per_mmhg, one.r_per_mmhg, $k);
            $copy!(all.k, one.k, $k);
            $copy!(all.k_back, one.k_back, $k);
            $copy!(all.q, one.q, $k);
        }
        $copy!($all.p_lv_mmhg, $one.p_lv_mmhg, $k);
        $copy!($all.p_rv_mmhg, $one.p_rv_mmhg, $k);
    };
}

impl Network<1> {
    /// Whether both are joined alike, so that they can be lanes of one network.
    pub fn alike(&self, other: &Self) -> bool {
        (self.nodes, self.pipes, self.links, self.orifices)
            == (other.nodes, other.pipes, other.links, other.orifices)
            && self.pipe_ends == other.pipe_ends
            && self.link_from == other.link_from
            && self.runs == other.runs
            && self.outlets == other.outlets
            && self.squeezed == other.squeezed
            && self.dt_s == other.dt_s
            && self.primed == other.primed
    }
}

impl<const W: usize> Network<W> {
    /// Takes lane `k` from a network on its own, which must be alike.
    pub fn put(&mut self, k: usize, one: &mut Network<1>) {
        (self.nodes, self.pipes, self.links, self.orifices) = (one.nodes, one.pipes, one.links, one.orifices);
        (self.heart, self.outlets, self.squeezed) = (one.heart, one.outlets, one.squeezed);
        (self.pipe_ends, self.link_from) = (one.pipe_ends, one.link_from);
        self.primed = one.primed;
        self.runs.clone_from(&one.runs);
        every_field!(self, one, k, gather);
        for e in 0..self.pipes {
            if one.bent.contains(&(e as u8)) && !self.bent.contains(&(e as u8)) {
                self.bent.push(e as u8);
            }
        }
        for e in 0..self.orifices {
            self.list_open(e);
        }
    }
    /// Gives lane `k` back to a network on its own.
    pub fn take(&mut self, k: usize, one: &mut Network<1>) {
        every_field!(self, one, k, scatter);
        for e in 0..one.orifices {
            one.list_open(e);
        }
        one.bent.clear();
        for e in 0..one.pipes {
            if one.pipe_k[e][0] != 0.0 {
                one.bent.push(e as u8);
            }
        }
    }
}
