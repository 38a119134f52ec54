//! Exposures as a table (RFC 4180).

use etui_schema::recalls::{ExposedLot, Exposure, Exposures, LotOnOffer, UpcomingCheck};
use etui_schema::vocabulary::Reference;

/// The exposures as a table for an authority (RFC 4180): one row a treatment,
/// then one a check of an appointment to come, then one a record that cannot be
/// read.
#[must_use]
pub fn csv(exposures: &Exposures) -> String {
    let mut out = String::from(
        "kind,treatment_id,check_id,booking_ref,client_ref,artist_ref,at,lot_id,packs,lot,maker,\
         reference,expires_on,configuration",
    );
    // Only a chain has a column of branches.
    let is_chain = !exposures.branches.is_empty();
    let end = |branch: Option<&Reference>| match branch {
        _ if !is_chain => "\r\n".to_owned(),
        branch => format!(",{}\r\n", branch.map_or("", Reference::as_str)),
    };
    out.push_str(if is_chain { ",branch\r\n" } else { "\r\n" });
    // References hold no comma, quote or line break by their type.
    for row in &exposures.treatments {
        let Exposure {
            treatment_id,
            client_ref,
            artist_ref,
            performed_at,
            lot_id,
            packs,
            lot,
            branch_ref,
        } = row;
        let lot = columns(&lot.clone().unwrap_or_default());
        let end = end(branch_ref.as_ref());
        out.push_str(&format!(
            "treatment,{treatment_id},,,{client_ref},{artist_ref},{performed_at},{lot_id},{packs},{lot}{end}"
        ));
    }
    for row in &exposures.upcoming_checks {
        let UpcomingCheck { check_id, booking_ref, client_ref, starts_at, lots, branch_ref } = row;
        let end = end(branch_ref.as_ref());
        let client_ref = client_ref.as_ref().map_or("", Reference::as_str);
        for LotOnOffer { lot_id, lot } in lots {
            let lot = columns(lot);
            out.push_str(&format!(
                "check,,{check_id},{booking_ref},{client_ref},,{starts_at},{lot_id},,{lot}{end}"
            ));
        }
    }
    for _ in 0..exposures.unreadable.unwrap_or(0) {
        out.push_str("unreadable,,,,,,,,,,,,,");
        out.push_str(&end(None));
    }
    out
}

/// The columns of a lot.
fn columns(lot: &ExposedLot) -> String {
    let ExposedLot { code, maker, reference, expires_on, canonical } = lot;
    let expires_on = expires_on.map(|day| day.to_string());
    [code, maker, reference, &expires_on, canonical].map(|text| cell(text.as_deref())).join(",")
}

/// A cell of a table (RFC 4180): in quotes if it holds what would end it.
fn cell(text: Option<&str>) -> String {
    let text = text.unwrap_or_default();
    if text.contains([',', '"', '\r', '\n']) {
        return format!("\"{}\"", text.replace('"', "\"\""));
    }
    text.to_owned()
}
