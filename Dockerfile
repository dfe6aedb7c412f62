# One image for web, worker and beat. It makes .venv as `manage.py up` does: from the
# lock, by hash, wheels only.
FROM python:3.13-slim-bookworm

RUN apt-get update \
    && apt-get install -y --no-install-recommends \
        libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core \
        postgresql-client \
    && rm -rf /var/lib/apt/lists/* \
    && useradd --system --uid 10001 --home-dir /srv/clenchline clenchline \
    && install -d -o clenchline -g clenchline -m 700 /var/lib/clenchline

WORKDIR /srv/clenchline
COPY manage.py requirements.lock ./
COPY practice/__init__.py practice/bootstrap.py practice/env.py practice/
RUN python3 -c "from practice import bootstrap; bootstrap.ensure('run')" \
    && .venv/bin/python -m compileall -q .venv \
    && rm -rf /root/.cache
COPY . .
RUN .venv/bin/python -m compileall -q practice horses scheduling billing

ENV CLENCHLINE_DATA=/var/lib/clenchline PYTHONUNBUFFERED=1
USER clenchline
VOLUME /var/lib/clenchline
EXPOSE 8000
# Alone it is the embedded default: SQLite, worker and schedule in one tree.
CMD ["python3", "manage.py", "up", "--empty", "--host", "0.0.0.0"]
