"""The service's faces over HTTP: API, customer pages, workshop desk."""
