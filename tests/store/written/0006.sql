BEGIN TRANSACTION;
CREATE TABLE alarm_journal (
	id INTEGER NOT NULL, 
	module_id INTEGER NOT NULL, 
	alarm TEXT NOT NULL, 
	event_us BIGINT NOT NULL, 
	known_us BIGINT NOT NULL, 
	transition TEXT NOT NULL, 
	body TEXT NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(module_id) REFERENCES module (id)
);
INSERT INTO "alarm_journal" VALUES(1,1,'superheat-low',1764059130000000,1764060045000000,'raised','{"since_us":1764058530000000,"priority":"high","mode":"cooling","text":"liquid is very likely coming back: return superheat 0.5 K (-1.8 +0.7) at suction_pipe, even with all uncertainty under 2 K","probe":"suction_pipe","value_k":0.5235,"below_k":1.7501,"above_k":0.7236,"limit_k":2.0,"misleads_k":null}');
CREATE TABLE alarm_state (
	module_id INTEGER NOT NULL, 
	alarm TEXT NOT NULL, 
	since_us BIGINT, 
	changed_us BIGINT, 
	state TEXT NOT NULL, 
	PRIMARY KEY (module_id, alarm), 
	FOREIGN KEY(module_id) REFERENCES module (id)
)
 WITHOUT ROWID

;
INSERT INTO "alarm_state" VALUES(1,'superheat-low',1764058530000000,1764060045000000,'{"state":{"active":true,"acknowledged":false,"latched":false,"shelved_until_us":null,"suppressed":false,"out_of_service":false},"since_us":1764058530000000,"changed_us":1764060045000000,"said":{},"held_by":"","acknowledged_by":"","note":"","shelved_by":"","shelved_why":"","removed_by":"","removed_why":"","known_us":1764060045000000,"withdrawn":"","acknowledged_us":null}');
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0006');
CREATE TABLE assessment (
	module_id INTEGER NOT NULL, 
	grid_us BIGINT NOT NULL, 
	revision_id INTEGER NOT NULL, 
	basis_id INTEGER NOT NULL, 
	figures TEXT NOT NULL, 
	PRIMARY KEY (module_id, grid_us, revision_id), 
	FOREIGN KEY(module_id) REFERENCES module (id), 
	FOREIGN KEY(revision_id) REFERENCES revision (id), 
	FOREIGN KEY(basis_id) REFERENCES basis (id)
)
 WITHOUT ROWID

;
INSERT INTO "assessment" VALUES(1,1764057630000000,1,3,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764057660000000,1,3,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764057690000000,1,3,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764057720000000,1,3,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764057750000000,1,3,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764057780000000,1,3,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764057810000000,1,3,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764057840000000,1,3,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764057870000000,1,3,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764057900000000,1,3,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764057930000000,1,3,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764057960000000,1,3,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764057990000000,1,3,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058020000000,1,3,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058050000000,1,3,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058080000000,1,2,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058110000000,1,2,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058140000000,1,2,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058170000000,1,2,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058200000000,1,2,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058230000000,1,2,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058260000000,1,2,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058290000000,1,2,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058320000000,1,2,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058350000000,1,2,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058380000000,1,2,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058410000000,1,2,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058440000000,1,2,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058470000000,1,2,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058500000000,1,2,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058530000000,1,1,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058560000000,1,1,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058590000000,1,1,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058620000000,1,1,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058650000000,1,1,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058680000000,1,1,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058710000000,1,1,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058740000000,1,1,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058770000000,1,1,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058800000000,1,1,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058830000000,1,4,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058860000000,1,4,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058890000000,1,4,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058920000000,1,4,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058950000000,1,4,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764058980000000,1,4,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059010000000,1,4,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059040000000,1,4,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059070000000,1,4,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059100000000,1,4,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059130000000,1,4,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059160000000,1,4,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059190000000,1,4,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059220000000,1,4,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059250000000,1,4,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059280000000,1,4,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059310000000,1,4,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059340000000,1,4,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059370000000,1,4,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059400000000,1,4,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059430000000,1,4,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059460000000,1,4,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059490000000,1,4,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059520000000,1,4,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059550000000,1,4,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059580000000,1,4,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059610000000,1,4,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059640000000,1,4,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059670000000,1,4,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059700000000,1,4,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059730000000,1,4,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059760000000,1,4,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059790000000,1,4,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059820000000,1,4,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059850000000,1,4,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059880000000,1,4,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059910000000,1,4,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059940000000,1,4,'[5.3765,0.4324,0.4324,0.5235,1.7501,0.7236,null,null,null,3.5235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.5235,1.7501,0.7236,3.5235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764059970000000,1,4,'[5.3765,0.4324,0.4324,0.3235,1.7501,0.7236,null,null,null,3.3235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.3235,1.7501,0.7236,3.3235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
INSERT INTO "assessment" VALUES(1,1764060000000000,1,4,'[5.3765,0.4324,0.4324,0.4235,1.7501,0.7236,null,null,null,3.4235,0.7236,0.7236,3.0,0.8206,1.8471,null,null,null,0.4235,1.7501,0.7236,3.4235,0.7236,0.7236,0.2,0.0864,0.0864,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null,null]');
CREATE TABLE basis (
	id INTEGER NOT NULL, 
	digest TEXT NOT NULL, 
	body TEXT NOT NULL, 
	PRIMARY KEY (id), 
	UNIQUE (digest)
);
INSERT INTO "basis" VALUES(1,'966ad52d5e17f3669f90c1916dc03911bad754439b21f7e96dfb5f9aa2a1c9f9','{"mode":"cooling","mode_reason":"","running":["1","2"],"fitness":{"discharge_1":["high_side","it sits on the discharge side"],"discharge_2":["high_side","it sits on the discharge side"],"outdoor_coil_gas":["high_side","coil_pipe carries high-pressure gas in cooling"],"suction_pipe":["fit","all returning vapour, before anything is mixed in"],"compressor_inlet":["mixed","oil_return (warms) joins upstream"]},"said":{"saturated_suction":["decided","","from suction_pressure",null,[]],"return_superheat":["decided","","all returning vapour, before anything is mixed in","fit",["suction_pipe"]],"accumulator_outlet_superheat":["not_measurable","piping","no probe sits between the accumulator and the first inlet","not_measurable",[]],"compressor_inlet_superheat":["decided","","oil_return (warms) joins upstream; good for gas density, not for vapour quality","upper_bound",["compressor_inlet"]],"oil_return_rise":["decided","","only oil_return joins between them (hot_gas_bypass: bypass_valve told shut)","fit",["compressor_inlet","suction_pipe"]],"accumulator_change":["not_measurable","piping","it takes a fit probe on each side of the accumulator in cooling","not_measurable",[]],"superheat_at:suction_pipe":["decided","","at suction_pipe",null,["suction_pipe"]],"superheat_at:compressor_inlet":["decided","","at compressor_inlet",null,["compressor_inlet"]],"superheat_swing":["not_decidable","change","it takes a whole window of return superheat in one mode",null,[]],"saturated_condensing":["not_measurable","piping","discharge_pressure is not among the module''s signals",null,[]],"pressure_ratio":["not_measurable","piping","discharge_pressure is not among the module''s signals",null,[]],"subcooling":["not_measurable","piping","discharge_pressure is not among the module''s signals",null,[]],"discharge_temperature:1":["not_measurable","piping","discharge_1 is not among the module''s signals",null,[]],"discharge_superheat:1":["not_measurable","piping","discharge_1 is not among the module''s signals",null,[]],"discharge_margin:1":["not_measurable","piping","discharge_1 is not among the module''s signals",null,[]],"discharge_temperature:2":["not_measurable","piping","discharge_2 is not among the module''s signals",null,[]],"discharge_superheat:2":["not_measurable","piping","discharge_2 is not among the module''s signals",null,[]],"discharge_margin:2":["not_measurable","piping","discharge_2 is not among the module''s signals",null,[]],"current:1":["not_measurable","piping","compressor_1_current is not among the module''s signals",null,[]],"current:2":["not_measurable","piping","compressor_2_current is not among the module''s signals",null,[]],"current_balance":["not_measurable","piping","compressor_1_current is not among the module''s signals",null,[]],"injection":["not_measurable","piping","the layout has no injection",null,[]]},"conditions":{"superheat-low":"beyond_doubt","superheat-high":"clear","superheat-hunting":"unknown","discharge-superheat-low":"unknown","discharge-temperature-high":"unknown","subcooling-low":"unknown","subcooling-high":"unknown","probe-unfit":"clear","watch-blind":"clear","probe-failed":"clear"},"failed":{}}');
INSERT INTO "basis" VALUES(2,'cf0ecddac896158815640d69f1bb22f7e3b0f21400febb879c0706d73dc8b70d','{"mode":"cooling","mode_reason":"","running":["1","2"],"fitness":{"discharge_1":["high_side","it sits on the discharge side"],"discharge_2":["high_side","it sits on the discharge side"],"outdoor_coil_gas":["high_side","coil_pipe carries high-pressure gas in cooling"],"suction_pipe":["fit","all returning vapour, before anything is mixed in"],"compressor_inlet":["mixed","oil_return (warms) joins upstream"]},"said":{"saturated_suction":["not_settled","change","the mode changed a short while ago",null,[]],"return_superheat":["not_settled","change","the mode changed a short while ago","fit",["suction_pipe"]],"accumulator_outlet_superheat":["not_measurable","piping","no probe sits between the accumulator and the first inlet","not_measurable",[]],"compressor_inlet_superheat":["not_settled","change","the mode changed a short while ago","upper_bound",["compressor_inlet"]],"oil_return_rise":["not_settled","change","the mode changed a short while ago","fit",["compressor_inlet","suction_pipe"]],"accumulator_change":["not_measurable","piping","it takes a fit probe on each side of the accumulator in cooling","not_measurable",[]],"superheat_at:suction_pipe":["not_settled","change","the mode changed a short while ago",null,["suction_pipe"]],"superheat_at:compressor_inlet":["not_settled","change","the mode changed a short while ago",null,["compressor_inlet"]],"superheat_swing":["not_decidable","change","it takes a whole window of return superheat in one mode",null,[]],"saturated_condensing":["not_measurable","piping","discharge_pressure is not among the module''s signals",null,[]],"pressure_ratio":["not_measurable","piping","discharge_pressure is not among the module''s signals",null,[]],"subcooling":["not_measurable","piping","discharge_pressure is not among the module''s signals",null,[]],"discharge_temperature:1":["not_measurable","piping","discharge_1 is not among the module''s signals",null,[]],"discharge_superheat:1":["not_measurable","piping","discharge_1 is not among the module''s signals",null,[]],"discharge_margin:1":["not_measurable","piping","discharge_1 is not among the module''s signals",null,[]],"discharge_temperature:2":["not_measurable","piping","discharge_2 is not among the module''s signals",null,[]],"discharge_superheat:2":["not_measurable","piping","discharge_2 is not among the module''s signals",null,[]],"discharge_margin:2":["not_measurable","piping","discharge_2 is not among the module''s signals",null,[]],"current:1":["not_measurable","piping","compressor_1_current is not among the module''s signals",null,[]],"current:2":["not_measurable","piping","compressor_2_current is not among the module''s signals",null,[]],"current_balance":["not_measurable","piping","compressor_1_current is not among the module''s signals",null,[]],"injection":["not_measurable","piping","the layout has no injection",null,[]]},"conditions":{"superheat-low":"unknown","superheat-high":"unknown","superheat-hunting":"unknown","discharge-superheat-low":"unknown","discharge-temperature-high":"unknown","subcooling-low":"unknown","subcooling-high":"unknown","probe-unfit":"clear","watch-blind":"beyond","probe-failed":"clear"},"failed":{}}');
INSERT INTO "basis" VALUES(3,'9cfac960448b6560cec09325a21e80eae5d0063f1d3e9518801ddc1b2d5df6b2','{"mode":"cooling","mode_reason":"","running":["1","2"],"fitness":{"discharge_1":["high_side","it sits on the discharge side"],"discharge_2":["high_side","it sits on the discharge side"],"outdoor_coil_gas":["high_side","coil_pipe carries high-pressure gas in cooling"],"suction_pipe":["fit","all returning vapour, before anything is mixed in"],"compressor_inlet":["mixed","oil_return (warms) joins upstream"]},"said":{"saturated_suction":["not_settled","gaps","saturated suction temperature has gaps in the window",null,[]],"return_superheat":["not_settled","gaps","superheat at suction_pipe has gaps in the window","fit",["suction_pipe"]],"accumulator_outlet_superheat":["not_measurable","piping","no probe sits between the accumulator and the first inlet","not_measurable",[]],"compressor_inlet_superheat":["not_settled","gaps","superheat at compressor_inlet has gaps in the window","upper_bound",["compressor_inlet"]],"oil_return_rise":["not_settled","gaps","compressor_inlet minus suction_pipe has gaps in the window","fit",["compressor_inlet","suction_pipe"]],"accumulator_change":["not_measurable","piping","it takes a fit probe on each side of the accumulator in cooling","not_measurable",[]],"superheat_at:suction_pipe":["not_settled","gaps","superheat at suction_pipe has gaps in the window",null,["suction_pipe"]],"superheat_at:compressor_inlet":["not_settled","gaps","superheat at compressor_inlet has gaps in the window",null,["compressor_inlet"]],"superheat_swing":["not_decidable","change","it takes a whole window of return superheat in one mode",null,[]],"saturated_condensing":["not_measurable","piping","discharge_pressure is not among the module''s signals",null,[]],"pressure_ratio":["not_measurable","piping","discharge_pressure is not among the module''s signals",null,[]],"subcooling":["not_measurable","piping","discharge_pressure is not among the module''s signals",null,[]],"discharge_temperature:1":["not_measurable","piping","discharge_1 is not among the module''s signals",null,[]],"discharge_superheat:1":["not_measurable","piping","discharge_1 is not among the module''s signals",null,[]],"discharge_margin:1":["not_measurable","piping","discharge_1 is not among the module''s signals",null,[]],"discharge_temperature:2":["not_measurable","piping","discharge_2 is not among the module''s signals",null,[]],"discharge_superheat:2":["not_measurable","piping","discharge_2 is not among the module''s signals",null,[]],"discharge_margin:2":["not_measurable","piping","discharge_2 is not among the module''s signals",null,[]],"current:1":["not_measurable","piping","compressor_1_current is not among the module''s signals",null,[]],"current:2":["not_measurable","piping","compressor_2_current is not among the module''s signals",null,[]],"current_balance":["not_measurable","piping","compressor_1_current is not among the module''s signals",null,[]],"injection":["not_measurable","piping","the layout has no injection",null,[]]},"conditions":{"superheat-low":"unknown","superheat-high":"unknown","superheat-hunting":"unknown","discharge-superheat-low":"unknown","discharge-temperature-high":"unknown","subcooling-low":"unknown","subcooling-high":"unknown","probe-unfit":"clear","watch-blind":"beyond","probe-failed":"clear"},"failed":{}}');
INSERT INTO "basis" VALUES(4,'b14b69de815b058adfd856e5dac7b144535e62d65fc32a23e11f1cb7618d8b33','{"mode":"cooling","mode_reason":"","running":["1","2"],"fitness":{"discharge_1":["high_side","it sits on the discharge side"],"discharge_2":["high_side","it sits on the discharge side"],"outdoor_coil_gas":["high_side","coil_pipe carries high-pressure gas in cooling"],"suction_pipe":["fit","all returning vapour, before anything is mixed in"],"compressor_inlet":["mixed","oil_return (warms) joins upstream"]},"said":{"saturated_suction":["decided","","from suction_pressure",null,[]],"return_superheat":["decided","","all returning vapour, before anything is mixed in","fit",["suction_pipe"]],"accumulator_outlet_superheat":["not_measurable","piping","no probe sits between the accumulator and the first inlet","not_measurable",[]],"compressor_inlet_superheat":["decided","","oil_return (warms) joins upstream; good for gas density, not for vapour quality","upper_bound",["compressor_inlet"]],"oil_return_rise":["decided","","only oil_return joins between them (hot_gas_bypass: bypass_valve told shut)","fit",["compressor_inlet","suction_pipe"]],"accumulator_change":["not_measurable","piping","it takes a fit probe on each side of the accumulator in cooling","not_measurable",[]],"superheat_at:suction_pipe":["decided","","at suction_pipe",null,["suction_pipe"]],"superheat_at:compressor_inlet":["decided","","at compressor_inlet",null,["compressor_inlet"]],"superheat_swing":["decided","","smallest range in three parts of the window",null,[]],"saturated_condensing":["not_measurable","piping","discharge_pressure is not among the module''s signals",null,[]],"pressure_ratio":["not_measurable","piping","discharge_pressure is not among the module''s signals",null,[]],"subcooling":["not_measurable","piping","discharge_pressure is not among the module''s signals",null,[]],"discharge_temperature:1":["not_measurable","piping","discharge_1 is not among the module''s signals",null,[]],"discharge_superheat:1":["not_measurable","piping","discharge_1 is not among the module''s signals",null,[]],"discharge_margin:1":["not_measurable","piping","discharge_1 is not among the module''s signals",null,[]],"discharge_temperature:2":["not_measurable","piping","discharge_2 is not among the module''s signals",null,[]],"discharge_superheat:2":["not_measurable","piping","discharge_2 is not among the module''s signals",null,[]],"discharge_margin:2":["not_measurable","piping","discharge_2 is not among the module''s signals",null,[]],"current:1":["not_measurable","piping","compressor_1_current is not among the module''s signals",null,[]],"current:2":["not_measurable","piping","compressor_2_current is not among the module''s signals",null,[]],"current_balance":["not_measurable","piping","compressor_1_current is not among the module''s signals",null,[]],"injection":["not_measurable","piping","the layout has no injection",null,[]]},"conditions":{"superheat-low":"beyond_doubt","superheat-high":"clear","superheat-hunting":"clear","discharge-superheat-low":"unknown","discharge-temperature-high":"unknown","subcooling-low":"unknown","subcooling-high":"unknown","probe-unfit":"clear","watch-blind":"clear","probe-failed":"clear"},"failed":{}}');
CREATE TABLE command (
	id INTEGER NOT NULL, 
	created_us BIGINT NOT NULL, 
	who TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	module_id INTEGER, 
	alarm TEXT, 
	body TEXT NOT NULL, 
	done_us BIGINT, 
	refused BOOLEAN, 
	outcome TEXT, 
	PRIMARY KEY (id), 
	FOREIGN KEY(module_id) REFERENCES module (id)
);
CREATE TABLE "conflict" (
	id INTEGER NOT NULL, 
	sample_us BIGINT NOT NULL, 
	signal_id INTEGER NOT NULL, 
	value  NOT NULL, 
	unit TEXT, 
	arrival_us BIGINT NOT NULL, 
	PRIMARY KEY (id)
);
CREATE TABLE detection (
	module_id INTEGER NOT NULL, 
	alarm TEXT NOT NULL, 
	grid_us BIGINT NOT NULL, 
	revision_id INTEGER NOT NULL, 
	state TEXT NOT NULL, 
	PRIMARY KEY (module_id, alarm, grid_us, revision_id), 
	FOREIGN KEY(module_id) REFERENCES module (id), 
	FOREIGN KEY(revision_id) REFERENCES revision (id)
)
 WITHOUT ROWID

;
INSERT INTO "detection" VALUES(1,'superheat-low',1764058530000000,1,'{"active":false,"level":null,"since_us":1764058530000000,"beyond_us":1764058530000000,"clear_us":null,"halted_us":null}');
INSERT INTO "detection" VALUES(1,'superheat-low',1764059130000000,1,'{"active":true,"level":"beyond_doubt","since_us":1764058530000000,"beyond_us":null,"clear_us":null,"halted_us":null}');
INSERT INTO "detection" VALUES(1,'watch-blind',1764057630000000,1,'{"active":false,"level":null,"since_us":1764057630000000,"beyond_us":1764057630000000,"clear_us":null,"halted_us":null}');
INSERT INTO "detection" VALUES(1,'watch-blind',1764058530000000,1,'{"active":false,"level":null,"since_us":null,"beyond_us":null,"clear_us":null,"halted_us":null}');
CREATE TABLE dirty (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	module_id INTEGER NOT NULL, 
	from_us BIGINT NOT NULL, 
	to_us BIGINT NOT NULL, 
	FOREIGN KEY(module_id) REFERENCES module (id)
);
INSERT INTO "dirty" VALUES(2,1,1764060000600000,1764060090600000);
CREATE TABLE handheld (
	id INTEGER NOT NULL, 
	module_id INTEGER NOT NULL, 
	at_us BIGINT NOT NULL, 
	given_us BIGINT NOT NULL, 
	who TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	place TEXT NOT NULL, 
	side TEXT, 
	value FLOAT NOT NULL, 
	half_width FLOAT NOT NULL, 
	body TEXT NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(module_id) REFERENCES module (id)
);
CREATE TABLE hour (
	module_id INTEGER NOT NULL, 
	from_us BIGINT NOT NULL, 
	settled TEXT, 
	body TEXT NOT NULL, 
	PRIMARY KEY (module_id, from_us), 
	FOREIGN KEY(module_id) REFERENCES module (id)
)
 WITHOUT ROWID

;
CREATE TABLE mapping (
	id INTEGER NOT NULL, 
	digest TEXT NOT NULL, 
	body TEXT NOT NULL, 
	opened_us BIGINT NOT NULL, 
	PRIMARY KEY (id), 
	UNIQUE (digest)
);
CREATE TABLE module (
	id INTEGER NOT NULL, 
	site TEXT NOT NULL, 
	system TEXT NOT NULL, 
	name TEXT NOT NULL, 
	PRIMARY KEY (id), 
	CONSTRAINT module_path UNIQUE (site, system, name)
);
INSERT INTO "module" VALUES(1,'hill-house','one','m1');
CREATE TABLE module_service (
	module_id INTEGER NOT NULL, 
	confirmed_us BIGINT, 
	relearn_us BIGINT, replaced_us BIGINT, 
	PRIMARY KEY (module_id), 
	FOREIGN KEY(module_id) REFERENCES module (id)
);
CREATE TABLE outbox (
	id INTEGER NOT NULL, 
	created_us BIGINT NOT NULL, 
	route TEXT NOT NULL, 
	notice_key TEXT NOT NULL, 
	subject TEXT NOT NULL, 
	body TEXT NOT NULL, 
	attempts INTEGER NOT NULL, 
	next_us BIGINT NOT NULL, 
	sent_us BIGINT, 
	last_error TEXT, priority TEXT, brief TEXT, 
	PRIMARY KEY (id), 
	CONSTRAINT outbox_key UNIQUE (notice_key, route)
);
INSERT INTO "outbox" VALUES(1,1764059460000000,'technician','superheat-low','wet','wet
',1,1764059460000000,1764059520000000,NULL,'high','wet');
CREATE TABLE progress (
	module_id INTEGER NOT NULL, 
	assessed_us BIGINT NOT NULL, 
	PRIMARY KEY (module_id), 
	FOREIGN KEY(module_id) REFERENCES module (id)
);
INSERT INTO "progress" VALUES(1,1764060000000000);
CREATE TABLE reading (
	sample_us BIGINT NOT NULL, 
	signal_id INTEGER NOT NULL, 
	value  NOT NULL, 
	unit TEXT, 
	arrival_us BIGINT NOT NULL, 
	mapping_id INTEGER NOT NULL, 
	PRIMARY KEY (sample_us, signal_id)
)
 WITHOUT ROWID

;
INSERT INTO "reading" VALUES(1764057600600000,1,1,NULL,1764057600600000,1);
INSERT INTO "reading" VALUES(1764057600600000,2,5.7,NULL,1764057600600000,1);
INSERT INTO "reading" VALUES(1764057600600000,3,8.7,NULL,1764057600600000,1);
INSERT INTO "reading" VALUES(1764057600600000,4,944,NULL,1764057600600000,1);
INSERT INTO "reading" VALUES(1764057600600000,5,55,NULL,1764057600600000,1);
INSERT INTO "reading" VALUES(1764057600600000,6,55,NULL,1764057600600000,1);
INSERT INTO "reading" VALUES(1764057600600000,7,0,NULL,1764057600600000,1);
INSERT INTO "reading" VALUES(1764057630600000,1,1,NULL,1764057630600000,1);
INSERT INTO "reading" VALUES(1764057630600000,2,5.8,NULL,1764057630600000,1);
INSERT INTO "reading" VALUES(1764057630600000,3,8.8,NULL,1764057630600000,1);
INSERT INTO "reading" VALUES(1764057630600000,4,944,NULL,1764057630600000,1);
INSERT INTO "reading" VALUES(1764057630600000,5,55,NULL,1764057630600000,1);
INSERT INTO "reading" VALUES(1764057630600000,6,55,NULL,1764057630600000,1);
INSERT INTO "reading" VALUES(1764057630600000,7,0,NULL,1764057630600000,1);
INSERT INTO "reading" VALUES(1764057660600000,1,1,NULL,1764057660600000,1);
INSERT INTO "reading" VALUES(1764057660600000,2,5.9,NULL,1764057660600000,1);
INSERT INTO "reading" VALUES(1764057660600000,3,8.9,NULL,1764057660600000,1);
INSERT INTO "reading" VALUES(1764057660600000,4,944,NULL,1764057660600000,1);
INSERT INTO "reading" VALUES(1764057660600000,5,55,NULL,1764057660600000,1);
INSERT INTO "reading" VALUES(1764057660600000,6,55,NULL,1764057660600000,1);
INSERT INTO "reading" VALUES(1764057660600000,7,0,NULL,1764057660600000,1);
INSERT INTO "reading" VALUES(1764057690600000,1,1,NULL,1764057690600000,1);
INSERT INTO "reading" VALUES(1764057690600000,2,5.7,NULL,1764057690600000,1);
INSERT INTO "reading" VALUES(1764057690600000,3,8.7,NULL,1764057690600000,1);
INSERT INTO "reading" VALUES(1764057690600000,4,944,NULL,1764057690600000,1);
INSERT INTO "reading" VALUES(1764057690600000,5,55,NULL,1764057690600000,1);
INSERT INTO "reading" VALUES(1764057690600000,6,55,NULL,1764057690600000,1);
INSERT INTO "reading" VALUES(1764057690600000,7,0,NULL,1764057690600000,1);
INSERT INTO "reading" VALUES(1764057720600000,1,1,NULL,1764057720600000,1);
INSERT INTO "reading" VALUES(1764057720600000,2,5.8,NULL,1764057720600000,1);
INSERT INTO "reading" VALUES(1764057720600000,3,8.8,NULL,1764057720600000,1);
INSERT INTO "reading" VALUES(1764057720600000,4,944,NULL,1764057720600000,1);
INSERT INTO "reading" VALUES(1764057720600000,5,55,NULL,1764057720600000,1);
INSERT INTO "reading" VALUES(1764057720600000,6,55,NULL,1764057720600000,1);
INSERT INTO "reading" VALUES(1764057720600000,7,0,NULL,1764057720600000,1);
INSERT INTO "reading" VALUES(1764057750600000,1,1,NULL,1764057750600000,1);
INSERT INTO "reading" VALUES(1764057750600000,2,5.9,NULL,1764057750600000,1);
INSERT INTO "reading" VALUES(1764057750600000,3,8.9,NULL,1764057750600000,1);
INSERT INTO "reading" VALUES(1764057750600000,4,944,NULL,1764057750600000,1);
INSERT INTO "reading" VALUES(1764057750600000,5,55,NULL,1764057750600000,1);
INSERT INTO "reading" VALUES(1764057750600000,6,55,NULL,1764057750600000,1);
INSERT INTO "reading" VALUES(1764057750600000,7,0,NULL,1764057750600000,1);
INSERT INTO "reading" VALUES(1764057780600000,1,1,NULL,1764057780600000,1);
INSERT INTO "reading" VALUES(1764057780600000,2,5.7,NULL,1764057780600000,1);
INSERT INTO "reading" VALUES(1764057780600000,3,8.7,NULL,1764057780600000,1);
INSERT INTO "reading" VALUES(1764057780600000,4,944,NULL,1764057780600000,1);
INSERT INTO "reading" VALUES(1764057780600000,5,55,NULL,1764057780600000,1);
INSERT INTO "reading" VALUES(1764057780600000,6,55,NULL,1764057780600000,1);
INSERT INTO "reading" VALUES(1764057780600000,7,0,NULL,1764057780600000,1);
INSERT INTO "reading" VALUES(1764057810600000,1,1,NULL,1764057810600000,1);
INSERT INTO "reading" VALUES(1764057810600000,2,5.8,NULL,1764057810600000,1);
INSERT INTO "reading" VALUES(1764057810600000,3,8.8,NULL,1764057810600000,1);
INSERT INTO "reading" VALUES(1764057810600000,4,944,NULL,1764057810600000,1);
INSERT INTO "reading" VALUES(1764057810600000,5,55,NULL,1764057810600000,1);
INSERT INTO "reading" VALUES(1764057810600000,6,55,NULL,1764057810600000,1);
INSERT INTO "reading" VALUES(1764057810600000,7,0,NULL,1764057810600000,1);
INSERT INTO "reading" VALUES(1764057840600000,1,1,NULL,1764057840600000,1);
INSERT INTO "reading" VALUES(1764057840600000,2,5.9,NULL,1764057840600000,1);
INSERT INTO "reading" VALUES(1764057840600000,3,8.9,NULL,1764057840600000,1);
INSERT INTO "reading" VALUES(1764057840600000,4,944,NULL,1764057840600000,1);
INSERT INTO "reading" VALUES(1764057840600000,5,55,NULL,1764057840600000,1);
INSERT INTO "reading" VALUES(1764057840600000,6,55,NULL,1764057840600000,1);
INSERT INTO "reading" VALUES(1764057840600000,7,0,NULL,1764057840600000,1);
INSERT INTO "reading" VALUES(1764057870600000,1,1,NULL,1764057870600000,1);
INSERT INTO "reading" VALUES(1764057870600000,2,5.7,NULL,1764057870600000,1);
INSERT INTO "reading" VALUES(1764057870600000,3,8.7,NULL,1764057870600000,1);
INSERT INTO "reading" VALUES(1764057870600000,4,944,NULL,1764057870600000,1);
INSERT INTO "reading" VALUES(1764057870600000,5,55,NULL,1764057870600000,1);
INSERT INTO "reading" VALUES(1764057870600000,6,55,NULL,1764057870600000,1);
INSERT INTO "reading" VALUES(1764057870600000,7,0,NULL,1764057870600000,1);
INSERT INTO "reading" VALUES(1764057900600000,1,1,NULL,1764057900600000,1);
INSERT INTO "reading" VALUES(1764057900600000,2,5.8,NULL,1764057900600000,1);
INSERT INTO "reading" VALUES(1764057900600000,3,8.8,NULL,1764057900600000,1);
INSERT INTO "reading" VALUES(1764057900600000,4,944,NULL,1764057900600000,1);
INSERT INTO "reading" VALUES(1764057900600000,5,55,NULL,1764057900600000,1);
INSERT INTO "reading" VALUES(1764057900600000,6,55,NULL,1764057900600000,1);
INSERT INTO "reading" VALUES(1764057900600000,7,0,NULL,1764057900600000,1);
INSERT INTO "reading" VALUES(1764057930600000,1,1,NULL,1764057930600000,1);
INSERT INTO "reading" VALUES(1764057930600000,2,5.9,NULL,1764057930600000,1);
INSERT INTO "reading" VALUES(1764057930600000,3,8.9,NULL,1764057930600000,1);
INSERT INTO "reading" VALUES(1764057930600000,4,944,NULL,1764057930600000,1);
INSERT INTO "reading" VALUES(1764057930600000,5,55,NULL,1764057930600000,1);
INSERT INTO "reading" VALUES(1764057930600000,6,55,NULL,1764057930600000,1);
INSERT INTO "reading" VALUES(1764057930600000,7,0,NULL,1764057930600000,1);
INSERT INTO "reading" VALUES(1764057960600000,1,1,NULL,1764057960600000,1);
INSERT INTO "reading" VALUES(1764057960600000,2,5.7,NULL,1764057960600000,1);
INSERT INTO "reading" VALUES(1764057960600000,3,8.7,NULL,1764057960600000,1);
INSERT INTO "reading" VALUES(1764057960600000,4,944,NULL,1764057960600000,1);
INSERT INTO "reading" VALUES(1764057960600000,5,55,NULL,1764057960600000,1);
INSERT INTO "reading" VALUES(1764057960600000,6,55,NULL,1764057960600000,1);
INSERT INTO "reading" VALUES(1764057960600000,7,0,NULL,1764057960600000,1);
INSERT INTO "reading" VALUES(1764057990600000,1,1,NULL,1764057990600000,1);
INSERT INTO "reading" VALUES(1764057990600000,2,5.8,NULL,1764057990600000,1);
INSERT INTO "reading" VALUES(1764057990600000,3,8.8,NULL,1764057990600000,1);
INSERT INTO "reading" VALUES(1764057990600000,4,944,NULL,1764057990600000,1);
INSERT INTO "reading" VALUES(1764057990600000,5,55,NULL,1764057990600000,1);
INSERT INTO "reading" VALUES(1764057990600000,6,55,NULL,1764057990600000,1);
INSERT INTO "reading" VALUES(1764057990600000,7,0,NULL,1764057990600000,1);
INSERT INTO "reading" VALUES(1764058020600000,1,1,NULL,1764058020600000,1);
INSERT INTO "reading" VALUES(1764058020600000,2,5.9,NULL,1764058020600000,1);
INSERT INTO "reading" VALUES(1764058020600000,3,8.9,NULL,1764058020600000,1);
INSERT INTO "reading" VALUES(1764058020600000,4,944,NULL,1764058020600000,1);
INSERT INTO "reading" VALUES(1764058020600000,5,55,NULL,1764058020600000,1);
INSERT INTO "reading" VALUES(1764058020600000,6,55,NULL,1764058020600000,1);
INSERT INTO "reading" VALUES(1764058020600000,7,0,NULL,1764058020600000,1);
INSERT INTO "reading" VALUES(1764058050600000,1,1,NULL,1764058050600000,1);
INSERT INTO "reading" VALUES(1764058050600000,2,5.7,NULL,1764058050600000,1);
INSERT INTO "reading" VALUES(1764058050600000,3,8.7,NULL,1764058050600000,1);
INSERT INTO "reading" VALUES(1764058050600000,4,944,NULL,1764058050600000,1);
INSERT INTO "reading" VALUES(1764058050600000,5,55,NULL,1764058050600000,1);
INSERT INTO "reading" VALUES(1764058050600000,6,55,NULL,1764058050600000,1);
INSERT INTO "reading" VALUES(1764058050600000,7,0,NULL,1764058050600000,1);
INSERT INTO "reading" VALUES(1764058080600000,1,1,NULL,1764058080600000,1);
INSERT INTO "reading" VALUES(1764058080600000,2,5.8,NULL,1764058080600000,1);
INSERT INTO "reading" VALUES(1764058080600000,3,8.8,NULL,1764058080600000,1);
INSERT INTO "reading" VALUES(1764058080600000,4,944,NULL,1764058080600000,1);
INSERT INTO "reading" VALUES(1764058080600000,5,55,NULL,1764058080600000,1);
INSERT INTO "reading" VALUES(1764058080600000,6,55,NULL,1764058080600000,1);
INSERT INTO "reading" VALUES(1764058080600000,7,0,NULL,1764058080600000,1);
INSERT INTO "reading" VALUES(1764058110600000,1,1,NULL,1764058110600000,1);
INSERT INTO "reading" VALUES(1764058110600000,2,5.9,NULL,1764058110600000,1);
INSERT INTO "reading" VALUES(1764058110600000,3,8.9,NULL,1764058110600000,1);
INSERT INTO "reading" VALUES(1764058110600000,4,944,NULL,1764058110600000,1);
INSERT INTO "reading" VALUES(1764058110600000,5,55,NULL,1764058110600000,1);
INSERT INTO "reading" VALUES(1764058110600000,6,55,NULL,1764058110600000,1);
INSERT INTO "reading" VALUES(1764058110600000,7,0,NULL,1764058110600000,1);
INSERT INTO "reading" VALUES(1764058140600000,1,1,NULL,1764058140600000,1);
INSERT INTO "reading" VALUES(1764058140600000,2,5.7,NULL,1764058140600000,1);
INSERT INTO "reading" VALUES(1764058140600000,3,8.7,NULL,1764058140600000,1);
INSERT INTO "reading" VALUES(1764058140600000,4,944,NULL,1764058140600000,1);
INSERT INTO "reading" VALUES(1764058140600000,5,55,NULL,1764058140600000,1);
INSERT INTO "reading" VALUES(1764058140600000,6,55,NULL,1764058140600000,1);
INSERT INTO "reading" VALUES(1764058140600000,7,0,NULL,1764058140600000,1);
INSERT INTO "reading" VALUES(1764058170600000,1,1,NULL,1764058170600000,1);
INSERT INTO "reading" VALUES(1764058170600000,2,5.8,NULL,1764058170600000,1);
INSERT INTO "reading" VALUES(1764058170600000,3,8.8,NULL,1764058170600000,1);
INSERT INTO "reading" VALUES(1764058170600000,4,944,NULL,1764058170600000,1);
INSERT INTO "reading" VALUES(1764058170600000,5,55,NULL,1764058170600000,1);
INSERT INTO "reading" VALUES(1764058170600000,6,55,NULL,1764058170600000,1);
INSERT INTO "reading" VALUES(1764058170600000,7,0,NULL,1764058170600000,1);
INSERT INTO "reading" VALUES(1764058200600000,1,1,NULL,1764058200600000,1);
INSERT INTO "reading" VALUES(1764058200600000,2,5.9,NULL,1764058200600000,1);
INSERT INTO "reading" VALUES(1764058200600000,3,8.9,NULL,1764058200600000,1);
INSERT INTO "reading" VALUES(1764058200600000,4,944,NULL,1764058200600000,1);
INSERT INTO "reading" VALUES(1764058200600000,5,55,NULL,1764058200600000,1);
INSERT INTO "reading" VALUES(1764058200600000,6,55,NULL,1764058200600000,1);
INSERT INTO "reading" VALUES(1764058200600000,7,0,NULL,1764058200600000,1);
INSERT INTO "reading" VALUES(1764058230600000,1,1,NULL,1764058230600000,1);
INSERT INTO "reading" VALUES(1764058230600000,2,5.7,NULL,1764058230600000,1);
INSERT INTO "reading" VALUES(1764058230600000,3,8.7,NULL,1764058230600000,1);
INSERT INTO "reading" VALUES(1764058230600000,4,944,NULL,1764058230600000,1);
INSERT INTO "reading" VALUES(1764058230600000,5,55,NULL,1764058230600000,1);
INSERT INTO "reading" VALUES(1764058230600000,6,55,NULL,1764058230600000,1);
INSERT INTO "reading" VALUES(1764058230600000,7,0,NULL,1764058230600000,1);
INSERT INTO "reading" VALUES(1764058260600000,1,1,NULL,1764058260600000,1);
INSERT INTO "reading" VALUES(1764058260600000,2,5.8,NULL,1764058260600000,1);
INSERT INTO "reading" VALUES(1764058260600000,3,8.8,NULL,1764058260600000,1);
INSERT INTO "reading" VALUES(1764058260600000,4,944,NULL,1764058260600000,1);
INSERT INTO "reading" VALUES(1764058260600000,5,55,NULL,1764058260600000,1);
INSERT INTO "reading" VALUES(1764058260600000,6,55,NULL,1764058260600000,1);
INSERT INTO "reading" VALUES(1764058260600000,7,0,NULL,1764058260600000,1);
INSERT INTO "reading" VALUES(1764058290600000,1,1,NULL,1764058290600000,1);
INSERT INTO "reading" VALUES(1764058290600000,2,5.9,NULL,1764058290600000,1);
INSERT INTO "reading" VALUES(1764058290600000,3,8.9,NULL,1764058290600000,1);
INSERT INTO "reading" VALUES(1764058290600000,4,944,NULL,1764058290600000,1);
INSERT INTO "reading" VALUES(1764058290600000,5,55,NULL,1764058290600000,1);
INSERT INTO "reading" VALUES(1764058290600000,6,55,NULL,1764058290600000,1);
INSERT INTO "reading" VALUES(1764058290600000,7,0,NULL,1764058290600000,1);
INSERT INTO "reading" VALUES(1764058320600000,1,1,NULL,1764058320600000,1);
INSERT INTO "reading" VALUES(1764058320600000,2,5.7,NULL,1764058320600000,1);
INSERT INTO "reading" VALUES(1764058320600000,3,8.7,NULL,1764058320600000,1);
INSERT INTO "reading" VALUES(1764058320600000,4,944,NULL,1764058320600000,1);
INSERT INTO "reading" VALUES(1764058320600000,5,55,NULL,1764058320600000,1);
INSERT INTO "reading" VALUES(1764058320600000,6,55,NULL,1764058320600000,1);
INSERT INTO "reading" VALUES(1764058320600000,7,0,NULL,1764058320600000,1);
INSERT INTO "reading" VALUES(1764058350600000,1,1,NULL,1764058350600000,1);
INSERT INTO "reading" VALUES(1764058350600000,2,5.8,NULL,1764058350600000,1);
INSERT INTO "reading" VALUES(1764058350600000,3,8.8,NULL,1764058350600000,1);
INSERT INTO "reading" VALUES(1764058350600000,4,944,NULL,1764058350600000,1);
INSERT INTO "reading" VALUES(1764058350600000,5,55,NULL,1764058350600000,1);
INSERT INTO "reading" VALUES(1764058350600000,6,55,NULL,1764058350600000,1);
INSERT INTO "reading" VALUES(1764058350600000,7,0,NULL,1764058350600000,1);
INSERT INTO "reading" VALUES(1764058380600000,1,1,NULL,1764058380600000,1);
INSERT INTO "reading" VALUES(1764058380600000,2,5.9,NULL,1764058380600000,1);
INSERT INTO "reading" VALUES(1764058380600000,3,8.9,NULL,1764058380600000,1);
INSERT INTO "reading" VALUES(1764058380600000,4,944,NULL,1764058380600000,1);
INSERT INTO "reading" VALUES(1764058380600000,5,55,NULL,1764058380600000,1);
INSERT INTO "reading" VALUES(1764058380600000,6,55,NULL,1764058380600000,1);
INSERT INTO "reading" VALUES(1764058380600000,7,0,NULL,1764058380600000,1);
INSERT INTO "reading" VALUES(1764058410600000,1,1,NULL,1764058410600000,1);
INSERT INTO "reading" VALUES(1764058410600000,2,5.7,NULL,1764058410600000,1);
INSERT INTO "reading" VALUES(1764058410600000,3,8.7,NULL,1764058410600000,1);
INSERT INTO "reading" VALUES(1764058410600000,4,944,NULL,1764058410600000,1);
INSERT INTO "reading" VALUES(1764058410600000,5,55,NULL,1764058410600000,1);
INSERT INTO "reading" VALUES(1764058410600000,6,55,NULL,1764058410600000,1);
INSERT INTO "reading" VALUES(1764058410600000,7,0,NULL,1764058410600000,1);
INSERT INTO "reading" VALUES(1764058440600000,1,1,NULL,1764058440600000,1);
INSERT INTO "reading" VALUES(1764058440600000,2,5.8,NULL,1764058440600000,1);
INSERT INTO "reading" VALUES(1764058440600000,3,8.8,NULL,1764058440600000,1);
INSERT INTO "reading" VALUES(1764058440600000,4,944,NULL,1764058440600000,1);
INSERT INTO "reading" VALUES(1764058440600000,5,55,NULL,1764058440600000,1);
INSERT INTO "reading" VALUES(1764058440600000,6,55,NULL,1764058440600000,1);
INSERT INTO "reading" VALUES(1764058440600000,7,0,NULL,1764058440600000,1);
INSERT INTO "reading" VALUES(1764058470600000,1,1,NULL,1764058470600000,1);
INSERT INTO "reading" VALUES(1764058470600000,2,5.9,NULL,1764058470600000,1);
INSERT INTO "reading" VALUES(1764058470600000,3,8.9,NULL,1764058470600000,1);
INSERT INTO "reading" VALUES(1764058470600000,4,944,NULL,1764058470600000,1);
INSERT INTO "reading" VALUES(1764058470600000,5,55,NULL,1764058470600000,1);
INSERT INTO "reading" VALUES(1764058470600000,6,55,NULL,1764058470600000,1);
INSERT INTO "reading" VALUES(1764058470600000,7,0,NULL,1764058470600000,1);
INSERT INTO "reading" VALUES(1764058500600000,1,1,NULL,1764058500600000,1);
INSERT INTO "reading" VALUES(1764058500600000,2,5.7,NULL,1764058500600000,1);
INSERT INTO "reading" VALUES(1764058500600000,3,8.7,NULL,1764058500600000,1);
INSERT INTO "reading" VALUES(1764058500600000,4,944,NULL,1764058500600000,1);
INSERT INTO "reading" VALUES(1764058500600000,5,55,NULL,1764058500600000,1);
INSERT INTO "reading" VALUES(1764058500600000,6,55,NULL,1764058500600000,1);
INSERT INTO "reading" VALUES(1764058500600000,7,0,NULL,1764058500600000,1);
INSERT INTO "reading" VALUES(1764058530600000,1,1,NULL,1764058530600000,1);
INSERT INTO "reading" VALUES(1764058530600000,2,5.8,NULL,1764058530600000,1);
INSERT INTO "reading" VALUES(1764058530600000,3,8.8,NULL,1764058530600000,1);
INSERT INTO "reading" VALUES(1764058530600000,4,944,NULL,1764058530600000,1);
INSERT INTO "reading" VALUES(1764058530600000,5,55,NULL,1764058530600000,1);
INSERT INTO "reading" VALUES(1764058530600000,6,55,NULL,1764058530600000,1);
INSERT INTO "reading" VALUES(1764058530600000,7,0,NULL,1764058530600000,1);
INSERT INTO "reading" VALUES(1764058560600000,1,1,NULL,1764058560600000,1);
INSERT INTO "reading" VALUES(1764058560600000,2,5.9,NULL,1764058560600000,1);
INSERT INTO "reading" VALUES(1764058560600000,3,8.9,NULL,1764058560600000,1);
INSERT INTO "reading" VALUES(1764058560600000,4,944,NULL,1764058560600000,1);
INSERT INTO "reading" VALUES(1764058560600000,5,55,NULL,1764058560600000,1);
INSERT INTO "reading" VALUES(1764058560600000,6,55,NULL,1764058560600000,1);
INSERT INTO "reading" VALUES(1764058560600000,7,0,NULL,1764058560600000,1);
INSERT INTO "reading" VALUES(1764058590600000,1,1,NULL,1764058590600000,1);
INSERT INTO "reading" VALUES(1764058590600000,2,5.7,NULL,1764058590600000,1);
INSERT INTO "reading" VALUES(1764058590600000,3,8.7,NULL,1764058590600000,1);
INSERT INTO "reading" VALUES(1764058590600000,4,944,NULL,1764058590600000,1);
INSERT INTO "reading" VALUES(1764058590600000,5,55,NULL,1764058590600000,1);
INSERT INTO "reading" VALUES(1764058590600000,6,55,NULL,1764058590600000,1);
INSERT INTO "reading" VALUES(1764058590600000,7,0,NULL,1764058590600000,1);
INSERT INTO "reading" VALUES(1764058620600000,1,1,NULL,1764058620600000,1);
INSERT INTO "reading" VALUES(1764058620600000,2,5.8,NULL,1764058620600000,1);
INSERT INTO "reading" VALUES(1764058620600000,3,8.8,NULL,1764058620600000,1);
INSERT INTO "reading" VALUES(1764058620600000,4,944,NULL,1764058620600000,1);
INSERT INTO "reading" VALUES(1764058620600000,5,55,NULL,1764058620600000,1);
INSERT INTO "reading" VALUES(1764058620600000,6,55,NULL,1764058620600000,1);
INSERT INTO "reading" VALUES(1764058620600000,7,0,NULL,1764058620600000,1);
INSERT INTO "reading" VALUES(1764058650600000,1,1,NULL,1764058650600000,1);
INSERT INTO "reading" VALUES(1764058650600000,2,5.9,NULL,1764058650600000,1);
INSERT INTO "reading" VALUES(1764058650600000,3,8.9,NULL,1764058650600000,1);
INSERT INTO "reading" VALUES(1764058650600000,4,944,NULL,1764058650600000,1);
INSERT INTO "reading" VALUES(1764058650600000,5,55,NULL,1764058650600000,1);
INSERT INTO "reading" VALUES(1764058650600000,6,55,NULL,1764058650600000,1);
INSERT INTO "reading" VALUES(1764058650600000,7,0,NULL,1764058650600000,1);
INSERT INTO "reading" VALUES(1764058680600000,1,1,NULL,1764058680600000,1);
INSERT INTO "reading" VALUES(1764058680600000,2,5.7,NULL,1764058680600000,1);
INSERT INTO "reading" VALUES(1764058680600000,3,8.7,NULL,1764058680600000,1);
INSERT INTO "reading" VALUES(1764058680600000,4,944,NULL,1764058680600000,1);
INSERT INTO "reading" VALUES(1764058680600000,5,55,NULL,1764058680600000,1);
INSERT INTO "reading" VALUES(1764058680600000,6,55,NULL,1764058680600000,1);
INSERT INTO "reading" VALUES(1764058680600000,7,0,NULL,1764058680600000,1);
INSERT INTO "reading" VALUES(1764058710600000,1,1,NULL,1764058710600000,1);
INSERT INTO "reading" VALUES(1764058710600000,2,5.8,NULL,1764058710600000,1);
INSERT INTO "reading" VALUES(1764058710600000,3,8.8,NULL,1764058710600000,1);
INSERT INTO "reading" VALUES(1764058710600000,4,944,NULL,1764058710600000,1);
INSERT INTO "reading" VALUES(1764058710600000,5,55,NULL,1764058710600000,1);
INSERT INTO "reading" VALUES(1764058710600000,6,55,NULL,1764058710600000,1);
INSERT INTO "reading" VALUES(1764058710600000,7,0,NULL,1764058710600000,1);
INSERT INTO "reading" VALUES(1764058740600000,1,1,NULL,1764058740600000,1);
INSERT INTO "reading" VALUES(1764058740600000,2,5.9,NULL,1764058740600000,1);
INSERT INTO "reading" VALUES(1764058740600000,3,8.9,NULL,1764058740600000,1);
INSERT INTO "reading" VALUES(1764058740600000,4,944,NULL,1764058740600000,1);
INSERT INTO "reading" VALUES(1764058740600000,5,55,NULL,1764058740600000,1);
INSERT INTO "reading" VALUES(1764058740600000,6,55,NULL,1764058740600000,1);
INSERT INTO "reading" VALUES(1764058740600000,7,0,NULL,1764058740600000,1);
INSERT INTO "reading" VALUES(1764058770600000,1,1,NULL,1764058770600000,1);
INSERT INTO "reading" VALUES(1764058770600000,2,5.7,NULL,1764058770600000,1);
INSERT INTO "reading" VALUES(1764058770600000,3,8.7,NULL,1764058770600000,1);
INSERT INTO "reading" VALUES(1764058770600000,4,944,NULL,1764058770600000,1);
INSERT INTO "reading" VALUES(1764058770600000,5,55,NULL,1764058770600000,1);
INSERT INTO "reading" VALUES(1764058770600000,6,55,NULL,1764058770600000,1);
INSERT INTO "reading" VALUES(1764058770600000,7,0,NULL,1764058770600000,1);
INSERT INTO "reading" VALUES(1764058800600000,1,1,NULL,1764058800600000,1);
INSERT INTO "reading" VALUES(1764058800600000,2,5.8,NULL,1764058800600000,1);
INSERT INTO "reading" VALUES(1764058800600000,3,8.8,NULL,1764058800600000,1);
INSERT INTO "reading" VALUES(1764058800600000,4,944,NULL,1764058800600000,1);
INSERT INTO "reading" VALUES(1764058800600000,5,55,NULL,1764058800600000,1);
INSERT INTO "reading" VALUES(1764058800600000,6,55,NULL,1764058800600000,1);
INSERT INTO "reading" VALUES(1764058800600000,7,0,NULL,1764058800600000,1);
INSERT INTO "reading" VALUES(1764058830600000,1,1,NULL,1764058830600000,1);
INSERT INTO "reading" VALUES(1764058830600000,2,5.9,NULL,1764058830600000,1);
INSERT INTO "reading" VALUES(1764058830600000,3,8.9,NULL,1764058830600000,1);
INSERT INTO "reading" VALUES(1764058830600000,4,944,NULL,1764058830600000,1);
INSERT INTO "reading" VALUES(1764058830600000,5,55,NULL,1764058830600000,1);
INSERT INTO "reading" VALUES(1764058830600000,6,55,NULL,1764058830600000,1);
INSERT INTO "reading" VALUES(1764058830600000,7,0,NULL,1764058830600000,1);
INSERT INTO "reading" VALUES(1764058860600000,1,1,NULL,1764058860600000,1);
INSERT INTO "reading" VALUES(1764058860600000,2,5.7,NULL,1764058860600000,1);
INSERT INTO "reading" VALUES(1764058860600000,3,8.7,NULL,1764058860600000,1);
INSERT INTO "reading" VALUES(1764058860600000,4,944,NULL,1764058860600000,1);
INSERT INTO "reading" VALUES(1764058860600000,5,55,NULL,1764058860600000,1);
INSERT INTO "reading" VALUES(1764058860600000,6,55,NULL,1764058860600000,1);
INSERT INTO "reading" VALUES(1764058860600000,7,0,NULL,1764058860600000,1);
INSERT INTO "reading" VALUES(1764058890600000,1,1,NULL,1764058890600000,1);
INSERT INTO "reading" VALUES(1764058890600000,2,5.8,NULL,1764058890600000,1);
INSERT INTO "reading" VALUES(1764058890600000,3,8.8,NULL,1764058890600000,1);
INSERT INTO "reading" VALUES(1764058890600000,4,944,NULL,1764058890600000,1);
INSERT INTO "reading" VALUES(1764058890600000,5,55,NULL,1764058890600000,1);
INSERT INTO "reading" VALUES(1764058890600000,6,55,NULL,1764058890600000,1);
INSERT INTO "reading" VALUES(1764058890600000,7,0,NULL,1764058890600000,1);
INSERT INTO "reading" VALUES(1764058920600000,1,1,NULL,1764058920600000,1);
INSERT INTO "reading" VALUES(1764058920600000,2,5.9,NULL,1764058920600000,1);
INSERT INTO "reading" VALUES(1764058920600000,3,8.9,NULL,1764058920600000,1);
INSERT INTO "reading" VALUES(1764058920600000,4,944,NULL,1764058920600000,1);
INSERT INTO "reading" VALUES(1764058920600000,5,55,NULL,1764058920600000,1);
INSERT INTO "reading" VALUES(1764058920600000,6,55,NULL,1764058920600000,1);
INSERT INTO "reading" VALUES(1764058920600000,7,0,NULL,1764058920600000,1);
INSERT INTO "reading" VALUES(1764058950600000,1,1,NULL,1764058950600000,1);
INSERT INTO "reading" VALUES(1764058950600000,2,5.7,NULL,1764058950600000,1);
INSERT INTO "reading" VALUES(1764058950600000,3,8.7,NULL,1764058950600000,1);
INSERT INTO "reading" VALUES(1764058950600000,4,944,NULL,1764058950600000,1);
INSERT INTO "reading" VALUES(1764058950600000,5,55,NULL,1764058950600000,1);
INSERT INTO "reading" VALUES(1764058950600000,6,55,NULL,1764058950600000,1);
INSERT INTO "reading" VALUES(1764058950600000,7,0,NULL,1764058950600000,1);
INSERT INTO "reading" VALUES(1764058980600000,1,1,NULL,1764058980600000,1);
INSERT INTO "reading" VALUES(1764058980600000,2,5.8,NULL,1764058980600000,1);
INSERT INTO "reading" VALUES(1764058980600000,3,8.8,NULL,1764058980600000,1);
INSERT INTO "reading" VALUES(1764058980600000,4,944,NULL,1764058980600000,1);
INSERT INTO "reading" VALUES(1764058980600000,5,55,NULL,1764058980600000,1);
INSERT INTO "reading" VALUES(1764058980600000,6,55,NULL,1764058980600000,1);
INSERT INTO "reading" VALUES(1764058980600000,7,0,NULL,1764058980600000,1);
INSERT INTO "reading" VALUES(1764059010600000,1,1,NULL,1764059010600000,1);
INSERT INTO "reading" VALUES(1764059010600000,2,5.9,NULL,1764059010600000,1);
INSERT INTO "reading" VALUES(1764059010600000,3,8.9,NULL,1764059010600000,1);
INSERT INTO "reading" VALUES(1764059010600000,4,944,NULL,1764059010600000,1);
INSERT INTO "reading" VALUES(1764059010600000,5,55,NULL,1764059010600000,1);
INSERT INTO "reading" VALUES(1764059010600000,6,55,NULL,1764059010600000,1);
INSERT INTO "reading" VALUES(1764059010600000,7,0,NULL,1764059010600000,1);
INSERT INTO "reading" VALUES(1764059040600000,1,1,NULL,1764059040600000,1);
INSERT INTO "reading" VALUES(1764059040600000,2,5.7,NULL,1764059040600000,1);
INSERT INTO "reading" VALUES(1764059040600000,3,8.7,NULL,1764059040600000,1);
INSERT INTO "reading" VALUES(1764059040600000,4,944,NULL,1764059040600000,1);
INSERT INTO "reading" VALUES(1764059040600000,5,55,NULL,1764059040600000,1);
INSERT INTO "reading" VALUES(1764059040600000,6,55,NULL,1764059040600000,1);
INSERT INTO "reading" VALUES(1764059040600000,7,0,NULL,1764059040600000,1);
INSERT INTO "reading" VALUES(1764059070600000,1,1,NULL,1764059070600000,1);
INSERT INTO "reading" VALUES(1764059070600000,2,5.8,NULL,1764059070600000,1);
INSERT INTO "reading" VALUES(1764059070600000,3,8.8,NULL,1764059070600000,1);
INSERT INTO "reading" VALUES(1764059070600000,4,944,NULL,1764059070600000,1);
INSERT INTO "reading" VALUES(1764059070600000,5,55,NULL,1764059070600000,1);
INSERT INTO "reading" VALUES(1764059070600000,6,55,NULL,1764059070600000,1);
INSERT INTO "reading" VALUES(1764059070600000,7,0,NULL,1764059070600000,1);
INSERT INTO "reading" VALUES(1764059100600000,1,1,NULL,1764059100600000,1);
INSERT INTO "reading" VALUES(1764059100600000,2,5.9,NULL,1764059100600000,1);
INSERT INTO "reading" VALUES(1764059100600000,3,8.9,NULL,1764059100600000,1);
INSERT INTO "reading" VALUES(1764059100600000,4,944,NULL,1764059100600000,1);
INSERT INTO "reading" VALUES(1764059100600000,5,55,NULL,1764059100600000,1);
INSERT INTO "reading" VALUES(1764059100600000,6,55,NULL,1764059100600000,1);
INSERT INTO "reading" VALUES(1764059100600000,7,0,NULL,1764059100600000,1);
INSERT INTO "reading" VALUES(1764059130600000,1,1,NULL,1764059130600000,1);
INSERT INTO "reading" VALUES(1764059130600000,2,5.7,NULL,1764059130600000,1);
INSERT INTO "reading" VALUES(1764059130600000,3,8.7,NULL,1764059130600000,1);
INSERT INTO "reading" VALUES(1764059130600000,4,944,NULL,1764059130600000,1);
INSERT INTO "reading" VALUES(1764059130600000,5,55,NULL,1764059130600000,1);
INSERT INTO "reading" VALUES(1764059130600000,6,55,NULL,1764059130600000,1);
INSERT INTO "reading" VALUES(1764059130600000,7,0,NULL,1764059130600000,1);
INSERT INTO "reading" VALUES(1764059160600000,1,1,NULL,1764059160600000,1);
INSERT INTO "reading" VALUES(1764059160600000,2,5.8,NULL,1764059160600000,1);
INSERT INTO "reading" VALUES(1764059160600000,3,8.8,NULL,1764059160600000,1);
INSERT INTO "reading" VALUES(1764059160600000,4,944,NULL,1764059160600000,1);
INSERT INTO "reading" VALUES(1764059160600000,5,55,NULL,1764059160600000,1);
INSERT INTO "reading" VALUES(1764059160600000,6,55,NULL,1764059160600000,1);
INSERT INTO "reading" VALUES(1764059160600000,7,0,NULL,1764059160600000,1);
INSERT INTO "reading" VALUES(1764059190600000,1,1,NULL,1764059190600000,1);
INSERT INTO "reading" VALUES(1764059190600000,2,5.9,NULL,1764059190600000,1);
INSERT INTO "reading" VALUES(1764059190600000,3,8.9,NULL,1764059190600000,1);
INSERT INTO "reading" VALUES(1764059190600000,4,944,NULL,1764059190600000,1);
INSERT INTO "reading" VALUES(1764059190600000,5,55,NULL,1764059190600000,1);
INSERT INTO "reading" VALUES(1764059190600000,6,55,NULL,1764059190600000,1);
INSERT INTO "reading" VALUES(1764059190600000,7,0,NULL,1764059190600000,1);
INSERT INTO "reading" VALUES(1764059220600000,1,1,NULL,1764059220600000,1);
INSERT INTO "reading" VALUES(1764059220600000,2,5.7,NULL,1764059220600000,1);
INSERT INTO "reading" VALUES(1764059220600000,3,8.7,NULL,1764059220600000,1);
INSERT INTO "reading" VALUES(1764059220600000,4,944,NULL,1764059220600000,1);
INSERT INTO "reading" VALUES(1764059220600000,5,55,NULL,1764059220600000,1);
INSERT INTO "reading" VALUES(1764059220600000,6,55,NULL,1764059220600000,1);
INSERT INTO "reading" VALUES(1764059220600000,7,0,NULL,1764059220600000,1);
INSERT INTO "reading" VALUES(1764059250600000,1,1,NULL,1764059250600000,1);
INSERT INTO "reading" VALUES(1764059250600000,2,5.8,NULL,1764059250600000,1);
INSERT INTO "reading" VALUES(1764059250600000,3,8.8,NULL,1764059250600000,1);
INSERT INTO "reading" VALUES(1764059250600000,4,944,NULL,1764059250600000,1);
INSERT INTO "reading" VALUES(1764059250600000,5,55,NULL,1764059250600000,1);
INSERT INTO "reading" VALUES(1764059250600000,6,55,NULL,1764059250600000,1);
INSERT INTO "reading" VALUES(1764059250600000,7,0,NULL,1764059250600000,1);
INSERT INTO "reading" VALUES(1764059280600000,1,1,NULL,1764059280600000,1);
INSERT INTO "reading" VALUES(1764059280600000,2,5.9,NULL,1764059280600000,1);
INSERT INTO "reading" VALUES(1764059280600000,3,8.9,NULL,1764059280600000,1);
INSERT INTO "reading" VALUES(1764059280600000,4,944,NULL,1764059280600000,1);
INSERT INTO "reading" VALUES(1764059280600000,5,55,NULL,1764059280600000,1);
INSERT INTO "reading" VALUES(1764059280600000,6,55,NULL,1764059280600000,1);
INSERT INTO "reading" VALUES(1764059280600000,7,0,NULL,1764059280600000,1);
INSERT INTO "reading" VALUES(1764059310600000,1,1,NULL,1764059310600000,1);
INSERT INTO "reading" VALUES(1764059310600000,2,5.7,NULL,1764059310600000,1);
INSERT INTO "reading" VALUES(1764059310600000,3,8.7,NULL,1764059310600000,1);
INSERT INTO "reading" VALUES(1764059310600000,4,944,NULL,1764059310600000,1);
INSERT INTO "reading" VALUES(1764059310600000,5,55,NULL,1764059310600000,1);
INSERT INTO "reading" VALUES(1764059310600000,6,55,NULL,1764059310600000,1);
INSERT INTO "reading" VALUES(1764059310600000,7,0,NULL,1764059310600000,1);
INSERT INTO "reading" VALUES(1764059340600000,1,1,NULL,1764059340600000,1);
INSERT INTO "reading" VALUES(1764059340600000,2,5.8,NULL,1764059340600000,1);
INSERT INTO "reading" VALUES(1764059340600000,3,8.8,NULL,1764059340600000,1);
INSERT INTO "reading" VALUES(1764059340600000,4,944,NULL,1764059340600000,1);
INSERT INTO "reading" VALUES(1764059340600000,5,55,NULL,1764059340600000,1);
INSERT INTO "reading" VALUES(1764059340600000,6,55,NULL,1764059340600000,1);
INSERT INTO "reading" VALUES(1764059340600000,7,0,NULL,1764059340600000,1);
INSERT INTO "reading" VALUES(1764059370600000,1,1,NULL,1764059370600000,1);
INSERT INTO "reading" VALUES(1764059370600000,2,5.9,NULL,1764059370600000,1);
INSERT INTO "reading" VALUES(1764059370600000,3,8.9,NULL,1764059370600000,1);
INSERT INTO "reading" VALUES(1764059370600000,4,944,NULL,1764059370600000,1);
INSERT INTO "reading" VALUES(1764059370600000,5,55,NULL,1764059370600000,1);
INSERT INTO "reading" VALUES(1764059370600000,6,55,NULL,1764059370600000,1);
INSERT INTO "reading" VALUES(1764059370600000,7,0,NULL,1764059370600000,1);
INSERT INTO "reading" VALUES(1764059400600000,1,1,NULL,1764059400600000,1);
INSERT INTO "reading" VALUES(1764059400600000,2,5.7,NULL,1764059400600000,1);
INSERT INTO "reading" VALUES(1764059400600000,3,8.7,NULL,1764059400600000,1);
INSERT INTO "reading" VALUES(1764059400600000,4,944,NULL,1764059400600000,1);
INSERT INTO "reading" VALUES(1764059400600000,5,55,NULL,1764059400600000,1);
INSERT INTO "reading" VALUES(1764059400600000,6,55,NULL,1764059400600000,1);
INSERT INTO "reading" VALUES(1764059400600000,7,0,NULL,1764059400600000,1);
INSERT INTO "reading" VALUES(1764059430600000,1,1,NULL,1764059430600000,1);
INSERT INTO "reading" VALUES(1764059430600000,2,5.8,NULL,1764059430600000,1);
INSERT INTO "reading" VALUES(1764059430600000,3,8.8,NULL,1764059430600000,1);
INSERT INTO "reading" VALUES(1764059430600000,4,944,NULL,1764059430600000,1);
INSERT INTO "reading" VALUES(1764059430600000,5,55,NULL,1764059430600000,1);
INSERT INTO "reading" VALUES(1764059430600000,6,55,NULL,1764059430600000,1);
INSERT INTO "reading" VALUES(1764059430600000,7,0,NULL,1764059430600000,1);
INSERT INTO "reading" VALUES(1764059460600000,1,1,NULL,1764059460600000,1);
INSERT INTO "reading" VALUES(1764059460600000,2,5.9,NULL,1764059460600000,1);
INSERT INTO "reading" VALUES(1764059460600000,3,8.9,NULL,1764059460600000,1);
INSERT INTO "reading" VALUES(1764059460600000,4,944,NULL,1764059460600000,1);
INSERT INTO "reading" VALUES(1764059460600000,5,55,NULL,1764059460600000,1);
INSERT INTO "reading" VALUES(1764059460600000,6,55,NULL,1764059460600000,1);
INSERT INTO "reading" VALUES(1764059460600000,7,0,NULL,1764059460600000,1);
INSERT INTO "reading" VALUES(1764059490600000,1,1,NULL,1764059490600000,1);
INSERT INTO "reading" VALUES(1764059490600000,2,5.7,NULL,1764059490600000,1);
INSERT INTO "reading" VALUES(1764059490600000,3,8.7,NULL,1764059490600000,1);
INSERT INTO "reading" VALUES(1764059490600000,4,944,NULL,1764059490600000,1);
INSERT INTO "reading" VALUES(1764059490600000,5,55,NULL,1764059490600000,1);
INSERT INTO "reading" VALUES(1764059490600000,6,55,NULL,1764059490600000,1);
INSERT INTO "reading" VALUES(1764059490600000,7,0,NULL,1764059490600000,1);
INSERT INTO "reading" VALUES(1764059520600000,1,1,NULL,1764059520600000,1);
INSERT INTO "reading" VALUES(1764059520600000,2,5.8,NULL,1764059520600000,1);
INSERT INTO "reading" VALUES(1764059520600000,3,8.8,NULL,1764059520600000,1);
INSERT INTO "reading" VALUES(1764059520600000,4,944,NULL,1764059520600000,1);
INSERT INTO "reading" VALUES(1764059520600000,5,55,NULL,1764059520600000,1);
INSERT INTO "reading" VALUES(1764059520600000,6,55,NULL,1764059520600000,1);
INSERT INTO "reading" VALUES(1764059520600000,7,0,NULL,1764059520600000,1);
INSERT INTO "reading" VALUES(1764059550600000,1,1,NULL,1764059550600000,1);
INSERT INTO "reading" VALUES(1764059550600000,2,5.9,NULL,1764059550600000,1);
INSERT INTO "reading" VALUES(1764059550600000,3,8.9,NULL,1764059550600000,1);
INSERT INTO "reading" VALUES(1764059550600000,4,944,NULL,1764059550600000,1);
INSERT INTO "reading" VALUES(1764059550600000,5,55,NULL,1764059550600000,1);
INSERT INTO "reading" VALUES(1764059550600000,6,55,NULL,1764059550600000,1);
INSERT INTO "reading" VALUES(1764059550600000,7,0,NULL,1764059550600000,1);
INSERT INTO "reading" VALUES(1764059580600000,1,1,NULL,1764059580600000,1);
INSERT INTO "reading" VALUES(1764059580600000,2,5.7,NULL,1764059580600000,1);
INSERT INTO "reading" VALUES(1764059580600000,3,8.7,NULL,1764059580600000,1);
INSERT INTO "reading" VALUES(1764059580600000,4,944,NULL,1764059580600000,1);
INSERT INTO "reading" VALUES(1764059580600000,5,55,NULL,1764059580600000,1);
INSERT INTO "reading" VALUES(1764059580600000,6,55,NULL,1764059580600000,1);
INSERT INTO "reading" VALUES(1764059580600000,7,0,NULL,1764059580600000,1);
INSERT INTO "reading" VALUES(1764059610600000,1,1,NULL,1764059610600000,1);
INSERT INTO "reading" VALUES(1764059610600000,2,5.8,NULL,1764059610600000,1);
INSERT INTO "reading" VALUES(1764059610600000,3,8.8,NULL,1764059610600000,1);
INSERT INTO "reading" VALUES(1764059610600000,4,944,NULL,1764059610600000,1);
INSERT INTO "reading" VALUES(1764059610600000,5,55,NULL,1764059610600000,1);
INSERT INTO "reading" VALUES(1764059610600000,6,55,NULL,1764059610600000,1);
INSERT INTO "reading" VALUES(1764059610600000,7,0,NULL,1764059610600000,1);
INSERT INTO "reading" VALUES(1764059640600000,1,1,NULL,1764059640600000,1);
INSERT INTO "reading" VALUES(1764059640600000,2,5.9,NULL,1764059640600000,1);
INSERT INTO "reading" VALUES(1764059640600000,3,8.9,NULL,1764059640600000,1);
INSERT INTO "reading" VALUES(1764059640600000,4,944,NULL,1764059640600000,1);
INSERT INTO "reading" VALUES(1764059640600000,5,55,NULL,1764059640600000,1);
INSERT INTO "reading" VALUES(1764059640600000,6,55,NULL,1764059640600000,1);
INSERT INTO "reading" VALUES(1764059640600000,7,0,NULL,1764059640600000,1);
INSERT INTO "reading" VALUES(1764059670600000,1,1,NULL,1764059670600000,1);
INSERT INTO "reading" VALUES(1764059670600000,2,5.7,NULL,1764059670600000,1);
INSERT INTO "reading" VALUES(1764059670600000,3,8.7,NULL,1764059670600000,1);
INSERT INTO "reading" VALUES(1764059670600000,4,944,NULL,1764059670600000,1);
INSERT INTO "reading" VALUES(1764059670600000,5,55,NULL,1764059670600000,1);
INSERT INTO "reading" VALUES(1764059670600000,6,55,NULL,1764059670600000,1);
INSERT INTO "reading" VALUES(1764059670600000,7,0,NULL,1764059670600000,1);
INSERT INTO "reading" VALUES(1764059700600000,1,1,NULL,1764059700600000,1);
INSERT INTO "reading" VALUES(1764059700600000,2,5.8,NULL,1764059700600000,1);
INSERT INTO "reading" VALUES(1764059700600000,3,8.8,NULL,1764059700600000,1);
INSERT INTO "reading" VALUES(1764059700600000,4,944,NULL,1764059700600000,1);
INSERT INTO "reading" VALUES(1764059700600000,5,55,NULL,1764059700600000,1);
INSERT INTO "reading" VALUES(1764059700600000,6,55,NULL,1764059700600000,1);
INSERT INTO "reading" VALUES(1764059700600000,7,0,NULL,1764059700600000,1);
INSERT INTO "reading" VALUES(1764059730600000,1,1,NULL,1764059730600000,1);
INSERT INTO "reading" VALUES(1764059730600000,2,5.9,NULL,1764059730600000,1);
INSERT INTO "reading" VALUES(1764059730600000,3,8.9,NULL,1764059730600000,1);
INSERT INTO "reading" VALUES(1764059730600000,4,944,NULL,1764059730600000,1);
INSERT INTO "reading" VALUES(1764059730600000,5,55,NULL,1764059730600000,1);
INSERT INTO "reading" VALUES(1764059730600000,6,55,NULL,1764059730600000,1);
INSERT INTO "reading" VALUES(1764059730600000,7,0,NULL,1764059730600000,1);
INSERT INTO "reading" VALUES(1764059760600000,1,1,NULL,1764059760600000,1);
INSERT INTO "reading" VALUES(1764059760600000,2,5.7,NULL,1764059760600000,1);
INSERT INTO "reading" VALUES(1764059760600000,3,8.7,NULL,1764059760600000,1);
INSERT INTO "reading" VALUES(1764059760600000,4,944,NULL,1764059760600000,1);
INSERT INTO "reading" VALUES(1764059760600000,5,55,NULL,1764059760600000,1);
INSERT INTO "reading" VALUES(1764059760600000,6,55,NULL,1764059760600000,1);
INSERT INTO "reading" VALUES(1764059760600000,7,0,NULL,1764059760600000,1);
INSERT INTO "reading" VALUES(1764059790600000,1,1,NULL,1764059790600000,1);
INSERT INTO "reading" VALUES(1764059790600000,2,5.8,NULL,1764059790600000,1);
INSERT INTO "reading" VALUES(1764059790600000,3,8.8,NULL,1764059790600000,1);
INSERT INTO "reading" VALUES(1764059790600000,4,944,NULL,1764059790600000,1);
INSERT INTO "reading" VALUES(1764059790600000,5,55,NULL,1764059790600000,1);
INSERT INTO "reading" VALUES(1764059790600000,6,55,NULL,1764059790600000,1);
INSERT INTO "reading" VALUES(1764059790600000,7,0,NULL,1764059790600000,1);
INSERT INTO "reading" VALUES(1764059820600000,1,1,NULL,1764059820600000,1);
INSERT INTO "reading" VALUES(1764059820600000,2,5.9,NULL,1764059820600000,1);
INSERT INTO "reading" VALUES(1764059820600000,3,8.9,NULL,1764059820600000,1);
INSERT INTO "reading" VALUES(1764059820600000,4,944,NULL,1764059820600000,1);
INSERT INTO "reading" VALUES(1764059820600000,5,55,NULL,1764059820600000,1);
INSERT INTO "reading" VALUES(1764059820600000,6,55,NULL,1764059820600000,1);
INSERT INTO "reading" VALUES(1764059820600000,7,0,NULL,1764059820600000,1);
INSERT INTO "reading" VALUES(1764059850600000,1,1,NULL,1764059850600000,1);
INSERT INTO "reading" VALUES(1764059850600000,2,5.7,NULL,1764059850600000,1);
INSERT INTO "reading" VALUES(1764059850600000,3,8.7,NULL,1764059850600000,1);
INSERT INTO "reading" VALUES(1764059850600000,4,944,NULL,1764059850600000,1);
INSERT INTO "reading" VALUES(1764059850600000,5,55,NULL,1764059850600000,1);
INSERT INTO "reading" VALUES(1764059850600000,6,55,NULL,1764059850600000,1);
INSERT INTO "reading" VALUES(1764059850600000,7,0,NULL,1764059850600000,1);
INSERT INTO "reading" VALUES(1764059880600000,1,1,NULL,1764059880600000,1);
INSERT INTO "reading" VALUES(1764059880600000,2,5.8,NULL,1764059880600000,1);
INSERT INTO "reading" VALUES(1764059880600000,3,8.8,NULL,1764059880600000,1);
INSERT INTO "reading" VALUES(1764059880600000,4,944,NULL,1764059880600000,1);
INSERT INTO "reading" VALUES(1764059880600000,5,55,NULL,1764059880600000,1);
INSERT INTO "reading" VALUES(1764059880600000,6,55,NULL,1764059880600000,1);
INSERT INTO "reading" VALUES(1764059880600000,7,0,NULL,1764059880600000,1);
INSERT INTO "reading" VALUES(1764059910600000,1,1,NULL,1764059910600000,1);
INSERT INTO "reading" VALUES(1764059910600000,2,5.9,NULL,1764059910600000,1);
INSERT INTO "reading" VALUES(1764059910600000,3,8.9,NULL,1764059910600000,1);
INSERT INTO "reading" VALUES(1764059910600000,4,944,NULL,1764059910600000,1);
INSERT INTO "reading" VALUES(1764059910600000,5,55,NULL,1764059910600000,1);
INSERT INTO "reading" VALUES(1764059910600000,6,55,NULL,1764059910600000,1);
INSERT INTO "reading" VALUES(1764059910600000,7,0,NULL,1764059910600000,1);
INSERT INTO "reading" VALUES(1764059940600000,1,1,NULL,1764059940600000,1);
INSERT INTO "reading" VALUES(1764059940600000,2,5.7,NULL,1764059940600000,1);
INSERT INTO "reading" VALUES(1764059940600000,3,8.7,NULL,1764059940600000,1);
INSERT INTO "reading" VALUES(1764059940600000,4,944,NULL,1764059940600000,1);
INSERT INTO "reading" VALUES(1764059940600000,5,55,NULL,1764059940600000,1);
INSERT INTO "reading" VALUES(1764059940600000,6,55,NULL,1764059940600000,1);
INSERT INTO "reading" VALUES(1764059940600000,7,0,NULL,1764059940600000,1);
INSERT INTO "reading" VALUES(1764059970600000,1,1,NULL,1764059970600000,1);
INSERT INTO "reading" VALUES(1764059970600000,2,5.8,NULL,1764059970600000,1);
INSERT INTO "reading" VALUES(1764059970600000,3,8.8,NULL,1764059970600000,1);
INSERT INTO "reading" VALUES(1764059970600000,4,944,NULL,1764059970600000,1);
INSERT INTO "reading" VALUES(1764059970600000,5,55,NULL,1764059970600000,1);
INSERT INTO "reading" VALUES(1764059970600000,6,55,NULL,1764059970600000,1);
INSERT INTO "reading" VALUES(1764059970600000,7,0,NULL,1764059970600000,1);
INSERT INTO "reading" VALUES(1764060000600000,1,1,NULL,1764060000600000,1);
INSERT INTO "reading" VALUES(1764060000600000,2,5.9,NULL,1764060000600000,1);
INSERT INTO "reading" VALUES(1764060000600000,3,8.9,NULL,1764060000600000,1);
INSERT INTO "reading" VALUES(1764060000600000,4,944,NULL,1764060000600000,1);
INSERT INTO "reading" VALUES(1764060000600000,5,55,NULL,1764060000600000,1);
INSERT INTO "reading" VALUES(1764060000600000,6,55,NULL,1764060000600000,1);
INSERT INTO "reading" VALUES(1764060000600000,7,0,NULL,1764060000600000,1);
INSERT INTO "reading" VALUES(1764060030600000,1,1,NULL,1764060030600000,1);
INSERT INTO "reading" VALUES(1764060030600000,2,5.7,NULL,1764060030600000,1);
INSERT INTO "reading" VALUES(1764060030600000,3,8.7,NULL,1764060030600000,1);
INSERT INTO "reading" VALUES(1764060030600000,4,944,NULL,1764060030600000,1);
INSERT INTO "reading" VALUES(1764060030600000,5,55,NULL,1764060030600000,1);
INSERT INTO "reading" VALUES(1764060030600000,6,55,NULL,1764060030600000,1);
INSERT INTO "reading" VALUES(1764060030600000,7,0,NULL,1764060030600000,1);
INSERT INTO "reading" VALUES(1764060060600000,1,1,NULL,1764060060600000,1);
INSERT INTO "reading" VALUES(1764060060600000,2,5.8,NULL,1764060060600000,1);
INSERT INTO "reading" VALUES(1764060060600000,3,8.8,NULL,1764060060600000,1);
INSERT INTO "reading" VALUES(1764060060600000,4,944,NULL,1764060060600000,1);
INSERT INTO "reading" VALUES(1764060060600000,5,55,NULL,1764060060600000,1);
INSERT INTO "reading" VALUES(1764060060600000,6,55,NULL,1764060060600000,1);
INSERT INTO "reading" VALUES(1764060060600000,7,0,NULL,1764060060600000,1);
INSERT INTO "reading" VALUES(1764060090600000,1,1,NULL,1764060090600000,1);
INSERT INTO "reading" VALUES(1764060090600000,2,5.9,NULL,1764060090600000,1);
INSERT INTO "reading" VALUES(1764060090600000,3,8.9,NULL,1764060090600000,1);
INSERT INTO "reading" VALUES(1764060090600000,4,944,NULL,1764060090600000,1);
INSERT INTO "reading" VALUES(1764060090600000,5,55,NULL,1764060090600000,1);
INSERT INTO "reading" VALUES(1764060090600000,6,55,NULL,1764060090600000,1);
INSERT INTO "reading" VALUES(1764060090600000,7,0,NULL,1764060090600000,1);
CREATE TABLE refused (
	id INTEGER NOT NULL, 
	arrival_us BIGINT NOT NULL, 
	topic TEXT NOT NULL, 
	reason TEXT NOT NULL, 
	detail TEXT NOT NULL, 
	head BLOB NOT NULL, 
	PRIMARY KEY (id)
);
INSERT INTO "refused" VALUES(1,1764057600000000,'plant/x','not-json','is no JSON',X'FF007B');
CREATE TABLE revision (
	id INTEGER NOT NULL, 
	module_id INTEGER NOT NULL, 
	opened_us BIGINT NOT NULL, 
	digest TEXT NOT NULL, 
	body TEXT NOT NULL, 
	reason TEXT NOT NULL, 
	current BOOLEAN NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(module_id) REFERENCES module (id)
);
INSERT INTO "revision" VALUES(1,1,1764057600000000,'c25fe2619d1f26e5797ad84aa3fa37974764cdf89e4d41e24b13fe55ff64bdbc','{"assess":{"learning_hours":48,"max_skew_s":90.0,"silence_s":120.0,"step_s":30},"code":"0.1.0","coolprop":"8.0.0","elevation_m":null,"layouts":[{"by":null,"from_us":0,"layout":{"about":"Two-pipe heat pump with two compressors on one accumulator. The second suction probe sits after the places where oil return and hot-gas bypass join, so it reads warm. Found where the probe is strapped to the common pipe just ahead of the compressors. On site: follow the thin pipe from the oil separator to the suction line and see on which side of it the second probe is clamped.\n","discharge_side":[[{"compressor":1},{"probe":"discharge_1"},{"junction":"high_side"}],[{"compressor":2},{"probe":"discharge_2"},{"junction":"high_side"}],[{"junction":"high_side"},{"transducer":"discharge_pressure"}]],"inlets":{"hot_gas_bypass":{"effect":"warms","valve":"bypass_valve"},"oil_return":{"effect":"warms"}},"layout":"two-pipe-twin-late","liquid_side":[[{"coil":"outdoor_coil"},{"expansion":"outdoor_expansion"},{"probe":"liquid_line"},{"expansion":"indoor_expansion"},{"coil":"indoor_units"}]],"modes":{"cooling":{"condensers":["outdoor_coil"],"evaporators":["indoor_units"],"expands":["indoor_expansion"],"high_side":["coil_pipe"]},"heating":{"condensers":["indoor_units"],"evaporators":["outdoor_coil"],"expands":["indoor_expansion","outdoor_expansion"],"high_side":["gas_pipe"]}},"suction_side":[[{"evaporator":"indoor_units"},{"segment":"gas_pipe"},{"probe":"suction_pipe"},{"junction":"low_side"}],[{"evaporator":"outdoor_coil"},{"segment":"coil_pipe"},{"probe":"outdoor_coil_gas"},{"junction":"low_side"}],[{"junction":"low_side"},{"vessel":"accumulator"},{"inlet":"oil_return"},{"inlet":"hot_gas_bypass"},{"probe":"compressor_inlet"},{"transducer":"suction_pressure"},{"split":"compressors"}],[{"split":"compressors"},{"compressor":1}],[{"split":"compressors"},{"compressor":2}]]},"signals":{"every_s":30.0,"max_age_s":120.0,"on_change":false,"payload":"senml","sentinels":[],"signals":{"bypass_valve":{"accuracy":null,"every_s":null,"max_age_s":null,"on_change":null,"point":null,"reference":null,"sealed_at_kpa":null,"sentinels":null,"step":0.0,"unit":null,"values":{"0":"shut","1":"open"}},"compressor_1_speed":{"accuracy":null,"every_s":null,"max_age_s":null,"on_change":null,"point":null,"reference":null,"sealed_at_kpa":null,"sentinels":null,"step":0.0,"unit":"Hz","values":null},"compressor_2_speed":{"accuracy":null,"every_s":null,"max_age_s":null,"on_change":null,"point":null,"reference":null,"sealed_at_kpa":null,"sentinels":null,"step":0.0,"unit":"Hz","values":null},"compressor_inlet":{"accuracy":0.5,"every_s":null,"max_age_s":null,"on_change":null,"point":null,"reference":null,"sealed_at_kpa":null,"sentinels":null,"step":0.1,"unit":"degC","values":null},"mode":{"accuracy":null,"every_s":null,"max_age_s":null,"on_change":null,"point":null,"reference":null,"sealed_at_kpa":null,"sentinels":null,"step":0.0,"unit":null,"values":{"0":"off","1":"cooling","2":"heating"}},"suction_pipe":{"accuracy":0.5,"every_s":null,"max_age_s":null,"on_change":null,"point":null,"reference":null,"sealed_at_kpa":null,"sentinels":null,"step":0.1,"unit":"degC","values":null},"suction_pressure":{"accuracy":10.0,"every_s":null,"max_age_s":null,"on_change":null,"point":null,"reference":"absolute","sealed_at_kpa":null,"sentinels":null,"step":1.0,"unit":"kPa","values":null}},"time":null},"why":null}],"limits":{"discharge-superheat-low":{"deadband_k":0.0,"limit_c":null,"limit_k":null,"off_delay_s":600,"on_delay_s":600,"second_best_k":null,"urgent_c":null,"urgent_on_delay_s":null},"discharge-temperature-high":{"deadband_k":5.0,"limit_c":105.0,"limit_k":null,"off_delay_s":600,"on_delay_s":600,"second_best_k":null,"urgent_c":115.0,"urgent_on_delay_s":120},"feed-stale":{"deadband_k":0.0,"limit_c":null,"limit_k":null,"off_delay_s":60,"on_delay_s":60,"second_best_k":null,"urgent_c":null,"urgent_on_delay_s":null},"layout-doubt":{"deadband_k":0.0,"limit_c":null,"limit_k":null,"off_delay_s":0,"on_delay_s":0,"second_best_k":null,"urgent_c":null,"urgent_on_delay_s":null},"oil-return-absent":{"deadband_k":0.0,"limit_c":null,"limit_k":null,"off_delay_s":7200,"on_delay_s":7200,"second_best_k":null,"urgent_c":null,"urgent_on_delay_s":null},"oil-return-excess":{"deadband_k":0.0,"limit_c":null,"limit_k":null,"off_delay_s":7200,"on_delay_s":7200,"second_best_k":null,"urgent_c":null,"urgent_on_delay_s":null},"probe-drift":{"deadband_k":0.0,"limit_c":null,"limit_k":null,"off_delay_s":0,"on_delay_s":0,"second_best_k":null,"urgent_c":null,"urgent_on_delay_s":null},"probe-failed":{"deadband_k":0.0,"limit_c":null,"limit_k":null,"off_delay_s":4500,"on_delay_s":120,"second_best_k":null,"urgent_c":null,"urgent_on_delay_s":null},"probe-unfit":{"deadband_k":0.0,"limit_c":null,"limit_k":null,"off_delay_s":600,"on_delay_s":600,"second_best_k":null,"urgent_c":null,"urgent_on_delay_s":null},"subcooling-high":{"deadband_k":2.0,"limit_c":null,"limit_k":12.0,"off_delay_s":1800,"on_delay_s":1800,"second_best_k":null,"urgent_c":null,"urgent_on_delay_s":null},"subcooling-low":{"deadband_k":1.0,"limit_c":null,"limit_k":3.0,"off_delay_s":1800,"on_delay_s":1800,"second_best_k":null,"urgent_c":null,"urgent_on_delay_s":null},"superheat-high":{"deadband_k":2.0,"limit_c":null,"limit_k":14.0,"off_delay_s":900,"on_delay_s":1800,"second_best_k":20.0,"urgent_c":null,"urgent_on_delay_s":null},"superheat-hunting":{"deadband_k":1.5,"limit_c":null,"limit_k":5.0,"off_delay_s":1200,"on_delay_s":1200,"second_best_k":null,"urgent_c":null,"urgent_on_delay_s":null},"superheat-low":{"deadband_k":1.0,"limit_c":null,"limit_k":2.0,"off_delay_s":600,"on_delay_s":600,"second_best_k":0.5,"urgent_c":null,"urgent_on_delay_s":null},"watch-blind":{"deadband_k":0.0,"limit_c":null,"limit_k":null,"off_delay_s":0,"on_delay_s":3600,"second_best_k":null,"urgent_c":null,"urgent_on_delay_s":0}},"module":{"configured_probe":null,"pressure_loss_kpa":{},"runs_above_a":1.0,"runs_above_hz":1.0,"topic":null,"unknown_loss_kpa":30.0},"refrigerant":"R-410A"}','first configuration',1);
CREATE TABLE secret (
	name TEXT NOT NULL, 
	value BLOB NOT NULL, 
	PRIMARY KEY (name)
);
CREATE TABLE signal (
	id INTEGER NOT NULL, 
	owner TEXT NOT NULL, 
	name TEXT NOT NULL, 
	PRIMARY KEY (id), 
	CONSTRAINT signal_key UNIQUE (owner, name)
);
INSERT INTO "signal" VALUES(1,'hill-house/one/m1','mode');
INSERT INTO "signal" VALUES(2,'hill-house/one/m1','suction_pipe');
INSERT INTO "signal" VALUES(3,'hill-house/one/m1','compressor_inlet');
INSERT INTO "signal" VALUES(4,'hill-house/one/m1','suction_pressure');
INSERT INTO "signal" VALUES(5,'hill-house/one/m1','compressor_1_speed');
INSERT INTO "signal" VALUES(6,'hill-house/one/m1','compressor_2_speed');
INSERT INTO "signal" VALUES(7,'hill-house/one/m1','bypass_valve');
CREATE INDEX conflict_key ON "conflict" (sample_us, signal_id);
CREATE INDEX refused_reason ON refused (reason);
CREATE UNIQUE INDEX revision_current ON revision (module_id) WHERE current;
CREATE INDEX alarm_journal_module ON alarm_journal (module_id, event_us);
CREATE TRIGGER alarm_journal_no_update BEFORE UPDATE ON alarm_journal BEGIN SELECT RAISE(ABORT, 'the alarm journal is append-only'); END;
CREATE TRIGGER alarm_journal_no_delete BEFORE DELETE ON alarm_journal BEGIN SELECT RAISE(ABORT, 'the alarm journal is append-only'); END;
CREATE INDEX outbox_waiting ON outbox (route, id) WHERE sent_us IS NULL;
CREATE INDEX command_waiting ON command (id) WHERE done_us IS NULL;
CREATE INDEX hour_settled ON hour (module_id, settled, from_us) WHERE settled IS NOT NULL;
CREATE INDEX handheld_module ON handheld (module_id, at_us);
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('dirty',2);
COMMIT;
