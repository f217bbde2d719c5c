# Aliases only: everything is in run.py.
.PHONY: demo test lock

demo test:
	python3 run.py $@

# Renews both locks after a change of pyproject.toml.
UV = uv pip compile --quiet --universal --generate-hashes --python-version 3.11 --no-emit-index-url --no-header
lock:
	$(UV) pyproject.toml --group build -o requirements.lock
	$(UV) pyproject.toml --group build --extra dev -c requirements.lock -o requirements-dev.lock
