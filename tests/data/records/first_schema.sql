BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE cautions (
	id INTEGER NOT NULL, 
	run_id INTEGER NOT NULL, 
	code VARCHAR(64) NOT NULL, 
	text TEXT NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(run_id) REFERENCES runs (id) ON DELETE CASCADE
);
INSERT INTO "cautions" VALUES(1,10,'chock_wheels','Chock the wheels.');
INSERT INTO "cautions" VALUES(2,11,'chock_wheels','Chock the wheels.');
INSERT INTO "cautions" VALUES(3,20,'chock_wheels','Chock the wheels.');
INSERT INTO "cautions" VALUES(4,21,'chock_wheels','Chock the wheels.');
CREATE TABLE characteristics (
	run_id INTEGER NOT NULL, 
	name VARCHAR(32) NOT NULL, 
	value FLOAT, 
	unit VARCHAR(16) NOT NULL, 
	expanded_uncertainty FLOAT, 
	lower_limit FLOAT, 
	upper_limit FLOAT, 
	decision VARCHAR(16) NOT NULL, 
	PRIMARY KEY (run_id, name), 
	FOREIGN KEY(run_id) REFERENCES runs (id) ON DELETE CASCADE
);
INSERT INTO "characteristics" VALUES(10,'baseline',25.5,'kPa',0.6,5.0,60.0,'within');
INSERT INTO "characteristics" VALUES(10,'full_pressure',431.0,'kPa',3.0,300.0,NULL,'within');
INSERT INTO "characteristics" VALUES(10,'slope',11.1,'kPa/mm',0.1,5.0,20.0,'within');
INSERT INTO "characteristics" VALUES(10,'friction',0.26,'mm',NULL,NULL,0.75,'within');
INSERT INTO "characteristics" VALUES(11,'baseline',25.5,'kPa',0.6,5.0,60.0,'within');
INSERT INTO "characteristics" VALUES(11,'full_pressure',431.0,'kPa',3.0,300.0,NULL,'within');
INSERT INTO "characteristics" VALUES(11,'slope',11.1,'kPa/mm',0.1,5.0,20.0,'within');
INSERT INTO "characteristics" VALUES(11,'friction',0.26,'mm',NULL,NULL,0.75,'within');
INSERT INTO "characteristics" VALUES(20,'baseline',25.5,'kPa',0.6,5.0,60.0,'within');
INSERT INTO "characteristics" VALUES(20,'full_pressure',431.0,'kPa',3.0,300.0,NULL,'within');
INSERT INTO "characteristics" VALUES(20,'slope',11.1,'kPa/mm',0.1,5.0,20.0,'within');
INSERT INTO "characteristics" VALUES(20,'friction',0.26,'mm',NULL,NULL,0.75,'within');
INSERT INTO "characteristics" VALUES(21,'baseline',25.5,'kPa',0.6,5.0,60.0,'within');
INSERT INTO "characteristics" VALUES(21,'full_pressure',431.0,'kPa',3.0,300.0,NULL,'within');
INSERT INTO "characteristics" VALUES(21,'slope',11.1,'kPa/mm',0.1,5.0,20.0,'within');
INSERT INTO "characteristics" VALUES(21,'friction',0.26,'mm',NULL,NULL,0.75,'within');
CREATE TABLE findings (
	id INTEGER NOT NULL, 
	run_id INTEGER NOT NULL, 
	code VARCHAR(64) NOT NULL, 
	severity VARCHAR(8) NOT NULL, 
	text TEXT NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(run_id) REFERENCES runs (id) ON DELETE CASCADE
);
INSERT INTO "findings" VALUES(1,10,'ripple_high','warning','Ripple is high.');
INSERT INTO "findings" VALUES(2,11,'ripple_high','warning','Ripple is high.');
INSERT INTO "findings" VALUES(3,20,'ripple_high','warning','Ripple is high.');
INSERT INTO "findings" VALUES(4,21,'ripple_high','warning','Ripple is high.');
CREATE TABLE jobs (
	id INTEGER NOT NULL, 
	digest VARCHAR(64) NOT NULL, 
	saved_at VARCHAR(40) NOT NULL, 
	customer TEXT, 
	laboratory TEXT, 
	reference TEXT, 
	valve_body_serial TEXT, 
	notes TEXT, 
	document TEXT NOT NULL, 
	PRIMARY KEY (id), 
	UNIQUE (digest)
);
INSERT INTO "jobs" VALUES(1,'95ef9080c793604a921c6908ff99846b926e13f82f8c410056a8266a51f24c2c','2026-10-15T10:00:00+00:00','Invented Garage',NULL,'order 1',NULL,NULL,'{"schema":"rodtrue.job/1","as_found":{"schema":"rodtrue.result/1","file":"as-found.capture","profile":"example-direct","fixture":{"kind":"board","interpreter":"micropython","identity":{"unique_id":"00c0ffee00c0ffee"},"calibration":{"generation":3}},"taken_at":"2026-10-14T09:30:00+00:00","operator":"A.B.","unit":"invented unit 1","capture":{"path":null,"sha256":null},"versions":{"rodtrue":"0.1.0"},"drive":"slide","reference":"curb_idle","rod_unhooked":true,"verdict":"short","reason":null,"body_verdict":"conforming","rod_error":{"value_mm":-2.44,"limits_mm":[-0.5,1.0],"expanded_uncertainty_mm":0.23,"standard_uncertainty_mm":0.1,"coverage_factor":2.3,"coverage_probability":0.975,"degrees_of_freedom":20.0,"interval_mm":[-2.67,-2.21],"at_most_mm":null,"statistical":{"standard_uncertainty_mm":0.01,"degrees_of_freedom":9,"interval_mm":[-2.5,-2.4]}},"probability":{"long":0.0,"short":1.0,"correct":0.0},"settle":null,"lever_start_mm":2.44,"opening_onset_mm":2.57,"closing_onset_mm":2.31,"friction_mm":0.26,"lag_s":0.012,"characteristics":[{"name":"baseline","value":25.5,"unit":"kPa","expanded_uncertainty":0.6,"limits":[5.0,60.0],"decision":"within"},{"name":"full_pressure","value":431.0,"unit":"kPa","expanded_uncertainty":3.0,"limits":[300.0,null],"decision":"within"},{"name":"slope","value":11.1,"unit":"kPa/mm","expanded_uncertainty":0.1,"limits":[5.0,20.0],"decision":"within"},{"name":"friction","value":0.26,"unit":"mm","expanded_uncertainty":null,"limits":[null,0.75],"decision":"within"}],"strokes":[],"correction":{"direction":"lengthen","amount_mm":2.44,"turns":null,"where":"slip joint","steps":[],"at_least_mm":null},"plot":{"travel_mm":[],"pressure_kpa":[],"direction":[],"fit":[]},"budget":[],"findings":[{"code":"ripple_high","severity":"warning","text":"Ripple is high.","evidence":{"kpa":4.2}}],"cautions":[{"code":"chock_wheels","text":"Chock the wheels."}],"expected_effect":null,"profile_details":null},"as_left":{"schema":"rodtrue.result/1","file":"as-left.capture","profile":"example-direct","fixture":{"kind":"board","interpreter":"micropython","identity":{"unique_id":"00c0ffee00c0ffee"},"calibration":{"generation":3}},"taken_at":"2026-10-14T09:30:00+00:00","operator":"A.B.","unit":"invented unit 1","capture":{"path":null,"sha256":null},"versions":{"rodtrue":"0.1.0"},"drive":"slide","reference":"curb_idle","rod_unhooked":true,"verdict":"correct","reason":null,"body_verdict":"conforming","rod_error":{"value_mm":0.02,"limits_mm":[-0.5,1.0],"expanded_uncertainty_mm":0.23,"standard_uncertainty_mm":0.1,"coverage_factor":2.3,"coverage_probability":0.975,"degrees_of_freedom":20.0,"interval_mm":[-0.21,0.25],"at_most_mm":null,"statistical":{"standard_uncertainty_mm":0.01,"degrees_of_freedom":9,"interval_mm":[-2.5,-2.4]}},"probability":{"long":0.0,"short":1.0,"correct":0.0},"settle":null,"lever_start_mm":2.44,"opening_onset_mm":2.57,"closing_onset_mm":2.31,"friction_mm":0.26,"lag_s":0.012,"characteristics":[{"name":"baseline","value":25.5,"unit":"kPa","expanded_uncertainty":0.6,"limits":[5.0,60.0],"decision":"within"},{"name":"full_pressure","value":431.0,"unit":"kPa","expanded_uncertainty":3.0,"limits":[300.0,null],"decision":"within"},{"name":"slope","value":11.1,"unit":"kPa/mm","expanded_uncertainty":0.1,"limits":[5.0,20.0],"decision":"within"},{"name":"friction","value":0.26,"unit":"mm","expanded_uncertainty":null,"limits":[null,0.75],"decision":"within"}],"strokes":[],"correction":{"direction":"lengthen","amount_mm":2.44,"turns":null,"where":"slip joint","steps":[],"at_least_mm":null},"plot":{"travel_mm":[],"pressure_kpa":[],"direction":[],"fit":[]},"budget":[],"findings":[{"code":"ripple_high","severity":"warning","text":"Ripple is high.","evidence":{"kpa":4.2}}],"cautions":[{"code":"chock_wheels","text":"Chock the wheels."}],"expected_effect":null,"profile_details":null},"customer":"Invented Garage","laboratory":null,"reference":"order 1","notes":null}');
INSERT INTO "jobs" VALUES(2,'45ed5c6471dc57b5ca4886c5b2808af804ac19ee3ba753cae4077d9ee02255c7','2026-10-15T10:00:00+00:00','Invented Garage',NULL,'order 2',NULL,NULL,'{"schema":"rodtrue.job/1","as_found":{"schema":"rodtrue.result/1","file":"as-found.capture","profile":"example-direct","fixture":{"kind":"board","interpreter":"micropython","identity":{"unique_id":"00c0ffee00c0ffee"},"calibration":{"generation":3}},"taken_at":"2026-10-14T09:30:00+00:00","operator":"A.B.","unit":"invented unit 2","capture":{"path":null,"sha256":null},"versions":{"rodtrue":"0.1.0"},"drive":"slide","reference":"curb_idle","rod_unhooked":true,"verdict":"short","reason":null,"body_verdict":"conforming","rod_error":{"value_mm":-2.44,"limits_mm":[-0.5,1.0],"expanded_uncertainty_mm":0.23,"standard_uncertainty_mm":0.1,"coverage_factor":2.3,"coverage_probability":0.975,"degrees_of_freedom":20.0,"interval_mm":[-2.67,-2.21],"at_most_mm":null,"statistical":{"standard_uncertainty_mm":0.01,"degrees_of_freedom":9,"interval_mm":[-2.5,-2.4]}},"probability":{"long":0.0,"short":1.0,"correct":0.0},"settle":null,"lever_start_mm":2.44,"opening_onset_mm":2.57,"closing_onset_mm":2.31,"friction_mm":0.26,"lag_s":0.012,"characteristics":[{"name":"baseline","value":25.5,"unit":"kPa","expanded_uncertainty":0.6,"limits":[5.0,60.0],"decision":"within"},{"name":"full_pressure","value":431.0,"unit":"kPa","expanded_uncertainty":3.0,"limits":[300.0,null],"decision":"within"},{"name":"slope","value":11.1,"unit":"kPa/mm","expanded_uncertainty":0.1,"limits":[5.0,20.0],"decision":"within"},{"name":"friction","value":0.26,"unit":"mm","expanded_uncertainty":null,"limits":[null,0.75],"decision":"within"}],"strokes":[],"correction":{"direction":"lengthen","amount_mm":2.44,"turns":null,"where":"slip joint","steps":[],"at_least_mm":null},"plot":{"travel_mm":[],"pressure_kpa":[],"direction":[],"fit":[]},"budget":[],"findings":[{"code":"ripple_high","severity":"warning","text":"Ripple is high.","evidence":{"kpa":4.2}}],"cautions":[{"code":"chock_wheels","text":"Chock the wheels."}],"expected_effect":null,"profile_details":null},"as_left":{"schema":"rodtrue.result/1","file":"as-left.capture","profile":"example-direct","fixture":{"kind":"board","interpreter":"micropython","identity":{"unique_id":"00c0ffee00c0ffee"},"calibration":{"generation":3}},"taken_at":"2026-10-14T09:30:00+00:00","operator":"A.B.","unit":"invented unit 2","capture":{"path":null,"sha256":null},"versions":{"rodtrue":"0.1.0"},"drive":"slide","reference":"curb_idle","rod_unhooked":true,"verdict":"correct","reason":null,"body_verdict":"conforming","rod_error":{"value_mm":0.02,"limits_mm":[-0.5,1.0],"expanded_uncertainty_mm":0.23,"standard_uncertainty_mm":0.1,"coverage_factor":2.3,"coverage_probability":0.975,"degrees_of_freedom":20.0,"interval_mm":[-0.21,0.25],"at_most_mm":null,"statistical":{"standard_uncertainty_mm":0.01,"degrees_of_freedom":9,"interval_mm":[-2.5,-2.4]}},"probability":{"long":0.0,"short":1.0,"correct":0.0},"settle":null,"lever_start_mm":2.44,"opening_onset_mm":2.57,"closing_onset_mm":2.31,"friction_mm":0.26,"lag_s":0.012,"characteristics":[{"name":"baseline","value":25.5,"unit":"kPa","expanded_uncertainty":0.6,"limits":[5.0,60.0],"decision":"within"},{"name":"full_pressure","value":431.0,"unit":"kPa","expanded_uncertainty":3.0,"limits":[300.0,null],"decision":"within"},{"name":"slope","value":11.1,"unit":"kPa/mm","expanded_uncertainty":0.1,"limits":[5.0,20.0],"decision":"within"},{"name":"friction","value":0.26,"unit":"mm","expanded_uncertainty":null,"limits":[null,0.75],"decision":"within"}],"strokes":[],"correction":{"direction":"lengthen","amount_mm":2.44,"turns":null,"where":"slip joint","steps":[],"at_least_mm":null},"plot":{"travel_mm":[],"pressure_kpa":[],"direction":[],"fit":[]},"budget":[],"findings":[{"code":"ripple_high","severity":"warning","text":"Ripple is high.","evidence":{"kpa":4.2}}],"cautions":[{"code":"chock_wheels","text":"Chock the wheels."}],"expected_effect":null,"profile_details":null},"customer":"Invented Garage","laboratory":null,"reference":"order 2","notes":null}');
CREATE TABLE runs (
	id INTEGER NOT NULL, 
	job_id INTEGER NOT NULL, 
	role VARCHAR(8) NOT NULL, 
	taken_at VARCHAR(40), 
	unit TEXT, 
	operator TEXT, 
	profile TEXT NOT NULL, 
	drive VARCHAR(16), 
	reference VARCHAR(16) NOT NULL, 
	fixture_kind VARCHAR(8) NOT NULL, 
	fixture_id VARCHAR(64), 
	calibration TEXT, 
	profile_details TEXT, 
	rod_unhooked BOOLEAN, 
	verdict VARCHAR(16) NOT NULL, 
	body_verdict VARCHAR(16), 
	rod_error_mm FLOAT, 
	expanded_uncertainty_mm FLOAT, 
	at_most_mm FLOAT, 
	capture_path TEXT, 
	capture_sha256 VARCHAR(64), 
	versions TEXT NOT NULL, 
	PRIMARY KEY (id), 
	FOREIGN KEY(job_id) REFERENCES jobs (id) ON DELETE CASCADE
);
INSERT INTO "runs" VALUES(10,1,'as_found','2026-10-14T09:30:00+00:00','invented unit 1','A.B.','example-direct','slide','curb_idle','board','00c0ffee00c0ffee','{"generation":3}',NULL,1,'short','conforming',-2.44,0.23,NULL,NULL,NULL,'{"rodtrue":"0.1.0"}');
INSERT INTO "runs" VALUES(11,1,'as_left','2026-10-14T09:30:00+00:00','invented unit 1','A.B.','example-direct','slide','curb_idle','board','00c0ffee00c0ffee','{"generation":3}',NULL,1,'correct','conforming',0.02,0.23,NULL,NULL,NULL,'{"rodtrue":"0.1.0"}');
INSERT INTO "runs" VALUES(20,2,'as_found','2026-10-14T09:30:00+00:00','invented unit 2','A.B.','example-direct','slide','curb_idle','board','00c0ffee00c0ffee','{"generation":3}',NULL,1,'short','conforming',-2.44,0.23,NULL,NULL,NULL,'{"rodtrue":"0.1.0"}');
INSERT INTO "runs" VALUES(21,2,'as_left','2026-10-14T09:30:00+00:00','invented unit 2','A.B.','example-direct','slide','curb_idle','board','00c0ffee00c0ffee','{"generation":3}',NULL,1,'correct','conforming',0.02,0.23,NULL,NULL,NULL,'{"rodtrue":"0.1.0"}');
CREATE INDEX runs_by_job ON runs (job_id);
CREATE INDEX findings_by_run ON findings (run_id);
CREATE INDEX cautions_by_run ON cautions (run_id);
COMMIT;
