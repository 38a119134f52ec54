//! The index: every operation of the interface.

use std::sync::{Arc, LazyLock};

use actix_web::middleware::from_fn;
use actix_web::web;
use actix_web::{HttpResponse, guard, http::Method};

use super::call::AtPath;
use super::frame::net;
use super::operation::Operation;
use super::{
    aftercare_plans, api_catalog, appointment_checks, artists, backups, branches, calendars,
    clients, clock_state, configuration_comparisons, configuration_drawings, deliveries, docs,
    drills, events, hand_profiles, health, label_readings, lots, machines, meta, needle_selections,
    packs, plugins, practice, problems, puncture_patterns, recalls, reminders, retention,
    sheet_readings, sheets, sign_offs, skin_assessments, skin_typing, subscriptions,
    symptom_reports, treatment_aftercare, treatment_history, treatments,
};

static OPERATIONS: LazyLock<Vec<Operation>> = LazyLock::new(|| {
    [
        label_readings::operations(),
        configuration_comparisons::operations(),
        configuration_drawings::operations(),
        needle_selections::operations(),
        puncture_patterns::operations(),
        skin_assessments::operations(),
        skin_typing::operations(),
        aftercare_plans::operations(),
        symptom_reports::operations(),
        appointment_checks::operations(),
        clients::operations(),
        artists::operations(),
        machines::operations(),
        branches::operations(),
        lots::operations(),
        deliveries::operations(),
        recalls::operations(),
        treatments::operations(),
        treatment_history::operations(),
        treatment_aftercare::operations(),
        sheets::operations(),
        hand_profiles::operations(),
        drills::operations(),
        sheet_readings::operations(),
        sign_offs::operations(),
        practice::operations(),
        calendars::operations(),
        reminders::operations(),
        plugins::operations(),
        packs::operations(),
        retention::operations(),
        backups::operations(),
        events::operations(),
        subscriptions::operations(),
        health::operations(),
        clock_state::operations(),
        meta::operations(),
        api_catalog::operations(),
        problems::operations(),
        docs::operations(),
    ]
    .into_iter()
    .flatten()
    .collect()
});

/// Every operation, in the order of the document.
pub(crate) fn operations() -> &'static [Operation] {
    &OPERATIONS
}

/// Registers every operation; paths that several share become one resource,
/// so that a wrong method is a 405 with `Allow`.
pub(crate) fn configure(app: &mut web::ServiceConfig) {
    let mut paths: Vec<(&'static str, Vec<Operation>)> = Vec::new();
    for operation in operations() {
        match paths.iter_mut().find(|(path, _)| *path == operation.path) {
            Some((_, held)) => held.push(operation.clone()),
            None => paths.push((operation.path, vec![operation.clone()])),
        }
    }
    // Paths are tried in turn; those without parameters cost nothing to compare.
    paths.sort_by_key(|(path, _)| path.contains('{'));
    for (path, held) in paths {
        // Before an ending a name may be empty: it is a wrong one then, and not the id `.ics`.
        let mut resource = web::resource(path.replace("}.ics", ":[^/]*}.ics"))
            .app_data(AtPath(Arc::new(held.clone())));
        for operation in held {
            let route = (operation.route)();
            resource = resource.route(if operation.method == Method::GET {
                route.guard(guard::Any(guard::Get()).or(guard::Head()))
            } else {
                route.method(operation.method)
            });
        }
        app.service(
            resource
                .default_service(web::to(|| async { HttpResponse::MethodNotAllowed().finish() }))
                .wrap(from_fn(net)),
        );
    }
}
