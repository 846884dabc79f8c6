-- The tables as the first release made them.

CREATE TABLE days (
    number INTEGER NOT NULL,
    id VARCHAR(32) NOT NULL,
    name TEXT NOT NULL,
    plant TEXT NOT NULL,
    date DATE NOT NULL,
    unit VARCHAR(2) NOT NULL,
    rows INTEGER NOT NULL,
    pieces BIGINT NOT NULL,
    sections JSON NOT NULL,
    materials JSON NOT NULL,
    warnings JSON NOT NULL,
    form VARCHAR(8) NOT NULL,
    digest VARCHAR(64) NOT NULL,
    created DATETIME NOT NULL,
    CONSTRAINT pk_days PRIMARY KEY (number),
    CONSTRAINT uq_days_id UNIQUE (id)
);

CREATE INDEX ix_days_digest ON days (digest);

CREATE TABLE plans (
    number INTEGER NOT NULL,
    id VARCHAR(32) NOT NULL,
    seconds FLOAT NOT NULL,
    seed BIGINT NOT NULL,
    status VARCHAR(8) NOT NULL,
    outcome VARCHAR(16),
    cancel_asked BOOLEAN NOT NULL,
    crashes INTEGER NOT NULL,
    owner VARCHAR(32),
    lease_until FLOAT,
    created DATETIME NOT NULL,
    started DATETIME,
    ended DATETIME,
    progress JSON NOT NULL,
    materials JSON,
    failure JSON,
    CONSTRAINT pk_plans PRIMARY KEY (number),
    CONSTRAINT uq_plans_id UNIQUE (id)
);

CREATE INDEX ix_plans_open ON plans (number) WHERE status IN ('queued', 'running');

CREATE TABLE day_files (
    day INTEGER NOT NULL,
    position INTEGER NOT NULL,
    name TEXT NOT NULL,
    content BLOB NOT NULL,
    CONSTRAINT pk_day_files PRIMARY KEY (day, position),
    CONSTRAINT fk_day_files_day_days FOREIGN KEY(day) REFERENCES days (number) ON DELETE CASCADE
);

CREATE TABLE curves (
    "plan" INTEGER NOT NULL,
    "of" VARCHAR(8) NOT NULL,
    CONSTRAINT pk_curves PRIMARY KEY ("plan"),
    CONSTRAINT fk_curves_plan_plans FOREIGN KEY("plan") REFERENCES plans (number) ON DELETE CASCADE
);

CREATE TABLE plan_days (
    "plan" INTEGER NOT NULL,
    position INTEGER NOT NULL,
    day_number INTEGER NOT NULL,
    CONSTRAINT pk_plan_days PRIMARY KEY ("plan", position),
    CONSTRAINT fk_plan_days_plan_plans FOREIGN KEY("plan") REFERENCES plans (number) ON DELETE CASCADE,
    CONSTRAINT fk_plan_days_day_number_days FOREIGN KEY(day_number) REFERENCES days (number) ON DELETE RESTRICT
);

CREATE INDEX ix_plan_days_day_number ON plan_days (day_number);

CREATE TABLE plan_files (
    "plan" INTEGER NOT NULL,
    name VARCHAR(64) NOT NULL,
    content BLOB NOT NULL,
    CONSTRAINT pk_plan_files PRIMARY KEY ("plan", name),
    CONSTRAINT fk_plan_files_plan_plans FOREIGN KEY("plan") REFERENCES plans (number) ON DELETE CASCADE
);

CREATE TABLE plan_events (
    "plan" INTEGER NOT NULL,
    number INTEGER NOT NULL,
    kind VARCHAR(16) NOT NULL,
    data JSON NOT NULL,
    CONSTRAINT pk_plan_events PRIMARY KEY ("plan", number),
    CONSTRAINT fk_plan_events_plan_plans FOREIGN KEY("plan") REFERENCES plans (number) ON DELETE CASCADE
);
