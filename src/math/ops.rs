//! Elementary functions with the same bits on every platform.
//!
//! `std`'s `f64::sin` and its kin call the platform's library and differ between Linux, Windows and the browser.
//! The lint in `clippy.toml` sends every caller here. Changing the pinned `libm` may change every golden.

/// e to the power `x`.
pub fn exp(x: f64) -> f64 {
    libm::exp(x)
}
/// `exp(x) - 1`, exact near zero.
pub fn exp_m1(x: f64) -> f64 {
    libm::expm1(x)
}
/// Natural logarithm.
pub fn ln(x: f64) -> f64 {
    libm::log(x)
}
/// `ln(1 + x)`, exact near zero.
pub fn ln_1p(x: f64) -> f64 {
    libm::log1p(x)
}
/// Logarithm to base ten.
pub fn log10(x: f64) -> f64 {
    libm::log10(x)
}
/// `x` to the power `y`.
pub fn powf(x: f64, y: f64) -> f64 {
    libm::pow(x, y)
}
/// `x` to a small whole power, by repeated squaring (exact order of multiplication).
pub fn powi(x: f64, n: i32) -> f64 {
    let mut base = if n < 0 { 1.0 / x } else { x };
    let mut left = n.unsigned_abs();
    let mut out = 1.0;
    while left > 0 {
        if left & 1 == 1 {
            out *= base;
        }
        base *= base;
        left >>= 1;
    }
    out
}
/// Square root; exact everywhere, here so that callers need only one module.
pub fn sqrt(x: f64) -> f64 {
    x.sqrt()
}
/// Cube root.
pub fn cbrt(x: f64) -> f64 {
    libm::cbrt(x)
}
/// `sqrt(x^2 + y^2)`.
pub fn hypot(x: f64, y: f64) -> f64 {
    libm::hypot(x, y)
}
/// Sine of `x` radians.
pub fn sin(x: f64) -> f64 {
    libm::sin(x)
}
/// Cosine of `x` radians.
pub fn cos(x: f64) -> f64 {
    libm::cos(x)
}
/// Sine and cosine of `x` radians.
pub fn sin_cos(x: f64) -> (f64, f64) {
    libm::sincos(x)
}
/// Tangent of `x` radians.
pub fn tan(x: f64) -> f64 {
    libm::tan(x)
}
/// Arc sine in radians; the argument is clamped to [-1, 1].
pub fn asin(x: f64) -> f64 {
    libm::asin(x.clamp(-1.0, 1.0))
}
/// Arc cosine in radians; the argument is clamped to [-1, 1].
pub fn acos(x: f64) -> f64 {
    libm::acos(x.clamp(-1.0, 1.0))
}
/// Arc tangent in radians.
pub fn atan(x: f64) -> f64 {
    libm::atan(x)
}
/// Angle of the point (`x`, `y`) in radians.
pub fn atan2(y: f64, x: f64) -> f64 {
    libm::atan2(y, x)
}
/// Hyperbolic tangent.
pub fn tanh(x: f64) -> f64 {
    libm::tanh(x)
}
/// Error function.
pub fn erf(x: f64) -> f64 {
    libm::erf(x)
}
/// Complementary error function.
pub fn erfc(x: f64) -> f64 {
    libm::erfc(x)
}

/// Logistic function `1 / (1 + exp(-x))`.
pub fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + exp(-x))
}

/// Probability after multiplying the odds of `p` by `factor`; `p` in [0, 1).
pub fn scale_odds(p: f64, factor: f64) -> f64 {
    let odds = p / (1.0 - p) * factor;
    odds / (1.0 + odds)
}

/// Single-precision twins, for pictures.
pub mod single {
    /// e to the power `x`.
    pub fn exp(x: f32) -> f32 {
        libm::expf(x)
    }
    /// Natural logarithm.
    pub fn ln(x: f32) -> f32 {
        libm::logf(x)
    }
    /// Sine of `x` radians.
    pub fn sin(x: f32) -> f32 {
        libm::sinf(x)
    }
    /// Cosine of `x` radians.
    pub fn cos(x: f32) -> f32 {
        libm::cosf(x)
    }
    /// `x` to the power `y`.
    pub fn powf(x: f32, y: f32) -> f32 {
        libm::powf(x, y)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_powers_and_odds() {
        assert_eq!(powi(3.0, 5), 243.0);
        assert_eq!(powi(2.0, -2), 0.25);
        // 1.6 % base odds times 1.14^7.13: worked example 3 of the sizing literature (Canaud, Ann Surg 2014).
        let p = scale_odds(0.016, powf(1.14, 16.129 - 9.0));
        assert!((p - 0.0397).abs() < 2e-4, "{p}");
    }
}
