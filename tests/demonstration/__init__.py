"""How the demonstration in swatches/ was made: scene, camera, films, trials. All invented."""
