//! The main job through the client that progenitor generates.

progenitor::generate_api!("openapi30.json");

#[tokio::main(flavor = "current_thread")]
async fn main() -> Result<(), Box<dyn std::error::Error>> {
    let (base, token) = (std::env::var("ETUI")?, std::env::var("TOKEN")?);
    let mut headers = reqwest::header::HeaderMap::new();
    headers.insert("authorization", format!("Bearer {token}").parse()?);
    let http = reqwest::Client::builder().default_headers(headers).no_proxy().build()?;
    let client = Client::new_with_client(&base, http);
    println!("etui {}", client.get_capabilities().await?.version);

    let starts_at = chrono::Utc::now() + chrono::Duration::days(21);
    let request: types::AppointmentCheckRequest = serde_json::from_value(serde_json::json!({
        "booking_ref": "rust-1",
        "treatment": "brows",
        "effect": "hair_strokes",
        "starts_at": starts_at.to_rfc3339_opts(chrono::SecondsFormat::Secs, true),
        "born_on": "1984-05-02",
        "candidates": ["0.20 1RL", "0.30 3RL"],
    }))?;
    let check = client.create_appointment_check(None, &request).await?.into_inner();
    println!("{:?}: {}", check.verdict, check.summary);
    let kept = client.get_appointment_check(&check.id, None).await?.into_inner();
    assert_eq!(serde_json::to_value(&kept)?, serde_json::to_value(&check)?);

    let nothing = uuid::Uuid::nil();
    match client.get_appointment_check(&nothing, None).await {
        Err(progenitor_client::Error::ErrorResponse(problem)) => {
            assert_eq!(problem.status(), 404);
            println!("refused as it should be: {}", problem.detail);
        }
        other => panic!("{other:?}"),
    }
    Ok(())
}
