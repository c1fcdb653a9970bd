//! C-arm, X-ray projection, contrast transport, subtraction, dose and CT reading.
