"use strict";
// The token is kept by this page alone and is gone when it is closed.
SwaggerUIBundle({
  url: "openapi.json",
  dom_id: "#interface",
  deepLinking: true,
  docExpansion: "list",
  defaultModelsExpandDepth: 0,
  displayRequestDuration: true,
  filter: true,
  persistAuthorization: false,
  tryItOutEnabled: true,
  validatorUrl: null,
});
