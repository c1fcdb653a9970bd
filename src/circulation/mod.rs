//! The patient: pressure, flow, bleeding, reflexes, drugs, blood and organs.
