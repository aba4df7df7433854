"""One file a subject; each looks at a scene or a shot and notes figures and findings."""
