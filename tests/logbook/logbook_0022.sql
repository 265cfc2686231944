PRAGMA application_id = 1953459813;
BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0022');
CREATE TABLE changes (
	table_name VARCHAR NOT NULL, 
	row_id INTEGER NOT NULL, 
	words VARCHAR NOT NULL, 
	"before" JSON NOT NULL, 
	reason VARCHAR NOT NULL, 
	bench VARCHAR DEFAULT '' NOT NULL, 
	undoes INTEGER, 
	id INTEGER NOT NULL, 
	made_at VARCHAR NOT NULL, 
	sum VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_changes PRIMARY KEY (id), 
	CONSTRAINT fk_changes_undoes FOREIGN KEY(undoes) REFERENCES changes (id)
);
INSERT INTO "changes" VALUES('pieces',1,'described anew','{"name": "old frame"}','named anew','bench of the tests',NULL,1,'2026-11-26T17:10:07.830581+00:00','071e029cbc3134bf');
INSERT INTO "changes" VALUES('layers',2,'retired','{"retired_at": null}','dried out','bench of the tests',NULL,2,'2026-11-26T17:10:08.040031+00:00','38f3118d63b6620f');
INSERT INTO "changes" VALUES('trials',1,'put right: strength 0.5 to 0.25','{"corrected": {"strength": 0.5, "prediction": {"lab": [61.0, 6.5, 35.0], "covariance": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "freedom": 5.0}, "cautions": ["Mind the seal."]}}','read the pot again','bench of the tests',NULL,3,'2026-11-26T17:10:08.598468+00:00','8ae2654ec8781ec9');
INSERT INTO "changes" VALUES('trials',1,'excluded','{"excluded": false}','wrong pot','bench of the tests',NULL,4,'2026-11-26T17:10:08.648785+00:00','c1882dff1ea21888');
CREATE TABLE comparisons (
	piece_id INTEGER NOT NULL, 
	original_id INTEGER NOT NULL, 
	repair_id INTEGER NOT NULL, 
	delta_e DOUBLE NOT NULL, 
	interval_low DOUBLE NOT NULL, 
	interval_high DOUBLE NOT NULL, 
	delta_lightness DOUBLE NOT NULL, 
	delta_chroma DOUBLE NOT NULL, 
	delta_hue_angle DOUBLE NOT NULL, 
	delta_hue DOUBLE NOT NULL, 
	tolerance DOUBLE NOT NULL, 
	verdict VARCHAR NOT NULL, 
	words VARCHAR NOT NULL, 
	warnings JSON NOT NULL, 
	findings JSON DEFAULT '[]' NOT NULL, 
	covariance JSON, 
	id INTEGER NOT NULL, 
	made_at VARCHAR NOT NULL, 
	sum VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_comparisons PRIMARY KEY (id), 
	CONSTRAINT fk_comparisons_piece_id FOREIGN KEY(piece_id) REFERENCES pieces (id), 
	CONSTRAINT fk_comparisons_original_id FOREIGN KEY(original_id) REFERENCES readings (id), 
	CONSTRAINT fk_comparisons_repair_id FOREIGN KEY(repair_id) REFERENCES readings (id)
);
INSERT INTO "comparisons" VALUES(1,1,2,7.4,6.9,8.0,8.0,7.5,5.5,3.5,2.0,'no match','The repair is lighter and yellower.','["The difference is above 5."]','["The repair is too even."]',NULL,1,'2026-11-26T17:10:08+00:00','84e34ba3dbf4b1ff');
INSERT INTO "comparisons" VALUES(1,5,6,7.4,6.9,8.0,8.0,7.5,5.5,3.5,2.0,'no match','The repair is lighter and yellower.','["The difference is above 5."]','[]',NULL,2,'2026-11-26T17:10:08+00:00','c8b83ba5952eac6b');
CREATE TABLE drafts (
	piece_id INTEGER NOT NULL, 
	name VARCHAR NOT NULL, 
	value JSON NOT NULL, 
	sha256 VARCHAR NOT NULL, 
	id INTEGER NOT NULL, 
	made_at VARCHAR NOT NULL, 
	sum VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_drafts PRIMARY KEY (id), 
	CONSTRAINT uq_drafts_piece_id_name UNIQUE (piece_id, name), 
	CONSTRAINT fk_drafts_piece_id FOREIGN KEY(piece_id) REFERENCES pieces (id)
);
CREATE TABLE judgements (
	way VARCHAR NOT NULL, 
	ways_read JSON NOT NULL, 
	far VARCHAR NOT NULL, 
	far_read VARCHAR NOT NULL, 
	layer VARCHAR NOT NULL, 
	laid VARCHAR NOT NULL, 
	id INTEGER NOT NULL, 
	made_at VARCHAR NOT NULL, 
	sum VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_judgements PRIMARY KEY (id)
);
CREATE TABLE layers (
	name VARCHAR NOT NULL, 
	kind VARCHAR NOT NULL, 
	entry JSON NOT NULL, 
	retired_at VARCHAR, 
	id INTEGER NOT NULL, 
	made_at VARCHAR NOT NULL, 
	sum VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_layers PRIMARY KEY (id), 
	CONSTRAINT uq_layers_name UNIQUE (name)
);
INSERT INTO "layers" VALUES('my seal','seal','{"material": "", "binder": "unknown", "solvent": "unknown", "technique": "", "effect": "", "full_strength": "", "mix": null, "absorption": null, "scattering": null, "cover": 0.0, "beneath": "", "strengths": [0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875, 1.0], "most_coats": 2, "drying_hours": [0.0, 0.0], "reversible": "alcohol", "taken_back_by": "", "over": "", "cautions": ["Mind the fumes."], "source": "", "lustre": "", "at_hand": true}',NULL,1,'2026-11-26T17:10:07+00:00','376c68f2c16f9ac4');
INSERT INTO "layers" VALUES('tea','wash','{"material": "", "binder": "gum", "solvent": "unknown", "technique": "", "effect": "", "full_strength": "", "mix": null, "absorption": [0.1, 0.2, 0.3], "scattering": [0.0, 0.0, 0.1], "cover": 0.0, "beneath": "", "strengths": [0.5, 1.0], "most_coats": 2, "drying_hours": [0.5, 2.0], "reversible": "unknown", "taken_back_by": "", "over": "", "cautions": [], "source": "starting guess", "lustre": "", "at_hand": true}','2026-11-26T17:10:08+00:00',2,'2026-11-26T17:10:08+00:00','f689821ea84b587a');
CREATE TABLE layers_laid (
	piece_id INTEGER NOT NULL, 
	comparison_id INTEGER NOT NULL, 
	layer VARCHAR NOT NULL, 
	kind VARCHAR NOT NULL, 
	strength DOUBLE NOT NULL, 
	coats INTEGER NOT NULL, 
	technique VARCHAR NOT NULL, 
	finish VARCHAR NOT NULL, 
	prediction JSON NOT NULL, 
	cautions JSON NOT NULL, 
	temperature DOUBLE, 
	humidity DOUBLE, 
	dry_at VARCHAR NOT NULL, 
	ended_at VARCHAR, 
	trial_id INTEGER, 
	id INTEGER NOT NULL, 
	made_at VARCHAR NOT NULL, 
	sum VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_layers_laid PRIMARY KEY (id), 
	CONSTRAINT fk_layers_laid_piece_id FOREIGN KEY(piece_id) REFERENCES pieces (id), 
	CONSTRAINT fk_layers_laid_comparison_id FOREIGN KEY(comparison_id) REFERENCES comparisons (id), 
	CONSTRAINT fk_layers_laid_trial_id FOREIGN KEY(trial_id) REFERENCES trials (id)
);
INSERT INTO "layers_laid" VALUES(1,2,'raw umber wash','wash',0.5,2,'water','burnished','{"lab": [61.0, 6.5, 35.0], "covariance": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "freedom": null}','["Mind."]',18.0,55.0,'2026-11-26T18:10:08+00:00',NULL,NULL,1,'2026-11-26T17:10:08+00:00','573b52f7f21e5a6b');
CREATE TABLE photographs (
	piece_id INTEGER NOT NULL, 
	sha256 VARCHAR NOT NULL, 
	file_name VARCHAR NOT NULL, 
	size INTEGER NOT NULL, 
	id INTEGER NOT NULL, 
	made_at VARCHAR NOT NULL, 
	sum VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_photographs PRIMARY KEY (id), 
	CONSTRAINT uq_photographs_piece_id_sha256 UNIQUE (piece_id, sha256), 
	CONSTRAINT fk_photographs_piece_id FOREIGN KEY(piece_id) REFERENCES pieces (id)
);
CREATE TABLE pieces (
	name VARCHAR NOT NULL, 
	technique VARCHAR NOT NULL, 
	finish VARCHAR NOT NULL, 
	bole VARCHAR NOT NULL, 
	leaf VARCHAR NOT NULL, 
	hangs_in VARCHAR NOT NULL, 
	wish VARCHAR NOT NULL, 
	tolerance DOUBLE NOT NULL, 
	viewing_distance_m DOUBLE, 
	notes VARCHAR NOT NULL, 
	invented BOOLEAN NOT NULL, 
	laid_before JSON DEFAULT '[]' NOT NULL, 
	gilded_at VARCHAR DEFAULT '' NOT NULL, 
	historic BOOLEAN DEFAULT 0 NOT NULL, 
	unknown_coating BOOLEAN DEFAULT 0 NOT NULL, 
	humidity DOUBLE, 
	temperature DOUBLE, 
	air_told_at VARCHAR DEFAULT '' NOT NULL, 
	glass VARCHAR DEFAULT 'unknown' NOT NULL, 
	zone VARCHAR DEFAULT '' NOT NULL, 
	removed_at VARCHAR, 
	damage VARCHAR DEFAULT '' NOT NULL, 
	condition VARCHAR DEFAULT '' NOT NULL, 
	extent VARCHAR DEFAULT '' NOT NULL, 
	done_by VARCHAR DEFAULT '' NOT NULL, 
	makers JSON DEFAULT '[]' NOT NULL, 
	id INTEGER NOT NULL, 
	made_at VARCHAR NOT NULL, 
	sum VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_pieces PRIMARY KEY (id), 
	CONSTRAINT ck_pieces_tolerance CHECK (tolerance > 0), 
	CONSTRAINT uq_pieces_name_zone UNIQUE (name, zone)
);
INSERT INTO "pieces" VALUES('frame','water','burnished','red','23.75 ct','hall, north light','aged in',1.5,1.8,'‘gesso’ lost at the corner',1,'["thin shellac", "raw umber wash"]','2026-01-02T10:00:00+00:00',1,0,55.0,NULL,'','unknown','',NULL,'','','','','[]',1,'2026-11-26T17:10:07+00:00','fd2d6eaafde34add');
CREATE TABLE plan_steps (
	plan_id INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	layer VARCHAR NOT NULL, 
	kind VARCHAR NOT NULL, 
	strength DOUBLE NOT NULL, 
	coats INTEGER NOT NULL, 
	lab JSON NOT NULL, 
	covariance JSON NOT NULL, 
	because VARCHAR DEFAULT '' NOT NULL, 
	cautions JSON DEFAULT '[]' NOT NULL, 
	id INTEGER NOT NULL, 
	made_at VARCHAR NOT NULL, 
	sum VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_plan_steps PRIMARY KEY (id), 
	CONSTRAINT fk_plan_steps_plan_id FOREIGN KEY(plan_id) REFERENCES plans (id)
);
INSERT INTO "plan_steps" VALUES(1,0,'thin shellac','seal',0.5,1,'[67.0, 6.0, 41.0]','[[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]','','[]',1,'2026-11-26T17:10:08+00:00','3ba16c9a4e6b547c');
INSERT INTO "plan_steps" VALUES(1,1,'raw umber wash','wash',0.25,2,'[61.0, 7.0, 33.0]','[[2.0, 0.0, 0.0], [0.0, 2.0, 0.0], [0.0, 0.0, 2.0]]','','[]',2,'2026-11-26T17:10:08+00:00','c5ead274067270e6');
CREATE TABLE plans (
	proposal_id INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	delta_e DOUBLE NOT NULL, 
	chance DOUBLE NOT NULL, 
	chance_read DOUBLE NOT NULL, 
	cautions JSON NOT NULL, 
	words VARCHAR NOT NULL, 
	id INTEGER NOT NULL, 
	made_at VARCHAR NOT NULL, 
	sum VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_plans PRIMARY KEY (id), 
	CONSTRAINT fk_plans_proposal_id FOREIGN KEY(proposal_id) REFERENCES proposals (id)
);
INSERT INTO "plans" VALUES(1,0,1.5,0.75,0.75,'["Let the shellac dry overnight."]','seal, then wash',1,'2026-11-26T17:10:08+00:00','aa7e4a4efe855e38');
INSERT INTO "plans" VALUES(1,1,7.4,0.0,0.0,'[]','stop here',2,'2026-11-26T17:10:08+00:00','f366047f946fabc9');
CREATE TABLE proposals (
	piece_id INTEGER NOT NULL, 
	comparison_id INTEGER, 
	"before" JSON NOT NULL, 
	target JSON NOT NULL, 
	tolerance DOUBLE NOT NULL, 
	missing VARCHAR NOT NULL, 
	notes JSON NOT NULL, 
	id INTEGER NOT NULL, 
	made_at VARCHAR NOT NULL, 
	sum VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_proposals PRIMARY KEY (id), 
	CONSTRAINT fk_proposals_piece_id FOREIGN KEY(piece_id) REFERENCES pieces (id), 
	CONSTRAINT fk_proposals_comparison_id FOREIGN KEY(comparison_id) REFERENCES comparisons (id)
);
INSERT INTO "proposals" VALUES(1,1,'[68.0, 6.0, 40.0]','[60.0, 8.0, 32.0]',2.0,'a cool glaze','["Thin."]',1,'2026-11-26T17:10:08+00:00','e8b49b6a2d3c4592');
CREATE TABLE readings (
	piece_id INTEGER, 
	photograph_id INTEGER, 
	photo_sha256 VARCHAR NOT NULL, 
	name VARCHAR NOT NULL, 
	role VARCHAR NOT NULL, 
	corners JSON NOT NULL, 
	"L" DOUBLE NOT NULL, 
	a DOUBLE NOT NULL, 
	b DOUBLE NOT NULL, 
	covariance JSON NOT NULL, 
	own_covariance JSON NOT NULL, 
	pixels INTEGER NOT NULL, 
	left_out INTEGER NOT NULL, 
	"spread_L" DOUBLE NOT NULL, 
	"spread_C" DOUBLE NOT NULL, 
	warnings JSON NOT NULL, 
	calibration JSON, 
	aids JSON, 
	lustre DOUBLE, 
	id INTEGER NOT NULL, 
	made_at VARCHAR NOT NULL, 
	sum VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_readings PRIMARY KEY (id), 
	CONSTRAINT fk_readings_piece_id FOREIGN KEY(piece_id) REFERENCES pieces (id), 
	CONSTRAINT fk_readings_photograph_id FOREIGN KEY(photograph_id) REFERENCES photographs (id)
);
INSERT INTO "readings" VALUES(1,NULL,'0000000000000000000000000000000000000000000000000000000000000000','old gold','original','[[30, 10], [70, 10], [70, 50], [30, 50]]',60.0,8.0,32.0,'[[0.09, 0.0, 0.0], [0.0, 0.04, 0.0], [0.0, 0.0, 0.0625]]','[[0.01, 0.0, 0.0], [0.0, 0.01, 0.0], [0.0, 0.0, 0.01]]',1500,12,1.25,0.75,'["Some glare was left out."]','{"gains": [1.1, 1.0, 0.9], "relative_covariance": [[1e-05, 0.0, 0.0], [0.0, 2e-05, 0.0], [0.0, 0.0, 3e-05]], "to_xyz": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "card": {"name": "card", "corners": [[0.0, 0.0], [20.0, 0.0], [20.0, 20.0], [0.0, 20.0]], "role": "card"}, "value": {"xyz": [0.1736, 0.18, 0.1485], "words": "reflectance 0.18"}, "warnings": ["The card is a little uneven."], "photo_sha256": "", "root_degree": 1, "balance": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "tone": {"levels": [[0.1, 0.1, 0.1], [0.5, 0.5, 0.5]], "values": [[0.0316227766016838, 0.0316227766016838, 0.0316227766016838], [0.3535533905932738, 0.3535533905932738, 0.3535533905932738]], "weights": [], "anchor": [0.18, 0.18, 0.18], "words": "two greys"}, "developed": true, "camera": "", "space": "", "even": {"origin": [5.0, 5.0], "longest": 64.0, "slope": [[0.01, 0.01, 0.01], [0.01, 0.01, 0.01]], "grid": null, "size": [64, 48], "words": "cards"}, "measured": ["light", "tone"], "profile": {"camera": "a camera", "lamp": "north window", "date": "2026-03-31", "space": "sRGB", "balance": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "degree": 1, "to_xyz": [[0.9, 0.0, 0.0], [0.0, 0.9, 0.0], [0.0, 0.0, 0.9]], "tone": {"levels": [[0.1, 0.1, 0.1], [0.5, 0.5, 0.5]], "values": [[0.0316227766016838, 0.0316227766016838, 0.0316227766016838], [0.3535533905932738, 0.3535533905932738, 0.3535533905932738]], "weights": [], "anchor": [0.18, 0.18, 0.18], "words": "two greys"}, "tone_covariance": [], "gains": [1.1, 1.0, 0.9], "patches": 24, "mean": 1.2, "percentile_95": 2.5, "spread": 1.0}}','{"neutrals": [{"name": "paper", "corners": [[1.0, 2.0], [9.5, 2.0], [9.5, 8.0]], "reflectance": 0.7}], "cards": [{"name": "again", "corners": [[1.0, 2.0], [9.5, 2.0], [9.5, 8.0]]}], "encoding": "linear", "chart": {"white": {"corners": [[1.0, 2.0], [9.5, 2.0], [9.5, 8.0]], "xyz": [0.9, 0.95, 0.8]}, "black": {"corners": [[9.5, 8.0], [9.5, 2.0], [1.0, 2.0]], "xyz": [0.03, 0.03, 0.02]}}, "profile": {"camera": "a camera", "lamp": "north window", "date": "2026-03-31", "space": "sRGB", "balance": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "degree": 1, "to_xyz": [[0.9, 0.0, 0.0], [0.0, 0.9, 0.0], [0.0, 0.0, 0.9]], "tone": {"levels": [[0.1, 0.1, 0.1], [0.5, 0.5, 0.5]], "values": [[0.0316227766016838, 0.0316227766016838, 0.0316227766016838], [0.3535533905932738, 0.3535533905932738, 0.3535533905932738]], "weights": [], "anchor": [0.18, 0.18, 0.18], "words": "two greys"}, "tone_covariance": [], "gains": [1.1, 1.0, 0.9], "patches": 24, "mean": 1.2, "percentile_95": 2.5, "spread": 1.0}, "sheet": ""}',1.5,1,'2026-11-26T17:10:08+00:00','32b6bb74b621c449');
INSERT INTO "readings" VALUES(1,NULL,'1111111111111111111111111111111111111111111111111111111111111111','new gold','repair','[[80, 10], [110, 10], [110, 50], [80, 50]]',68.0,6.0,40.0,'[[0.09, 0.0, 0.0], [0.0, 0.04, 0.0], [0.0, 0.0, 0.0625]]','[[0.01, 0.0, 0.0], [0.0, 0.01, 0.0], [0.0, 0.0, 0.01]]',1500,12,1.25,0.75,'["Some glare was left out."]','{"gains": [1.1, 1.0, 0.9], "relative_covariance": [[1e-05, 0.0, 0.0], [0.0, 2e-05, 0.0], [0.0, 0.0, 3e-05]], "to_xyz": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "card": {"name": "card", "corners": [[0.0, 0.0], [20.0, 0.0], [20.0, 20.0], [0.0, 20.0]], "role": "card"}, "value": {"xyz": [0.1736, 0.18, 0.1485], "words": "reflectance 0.18"}, "warnings": ["The card is a little uneven."], "photo_sha256": "", "root_degree": 1, "balance": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "tone": {"levels": [], "values": [], "weights": [], "anchor": [0.18, 0.18, 0.18], "words": "as the file says"}, "developed": true, "camera": "", "space": "", "even": {"origin": [5.0, 5.0], "longest": 64.0, "slope": [[0.01, 0.01, 0.01], [0.01, 0.01, 0.01]], "grid": [[[0.75, 0.75, 0.75], [0.75, 0.75, 0.75]]], "size": [64, 48], "words": "sheet"}, "measured": [], "profile": null}','{"neutrals": [], "cards": [], "encoding": "profile", "chart": null, "profile": null, "sheet": ""}',NULL,2,'2026-11-26T17:10:08+00:00','9d6c0bfc7efee824');
INSERT INTO "readings" VALUES(1,NULL,'0000000000000000000000000000000000000000000000000000000000000000','old gold','original','[[30, 10], [70, 10], [70, 50], [30, 50]]',60.0,8.0,32.0,'[[0.09, 0.0, 0.0], [0.0, 0.04, 0.0], [0.0, 0.0, 0.0625]]','[[0.01, 0.0, 0.0], [0.0, 0.01, 0.0], [0.0, 0.0, 0.01]]',1500,12,1.25,0.75,'["Some glare was left out."]','{"gains": [1.1, 1.0, 0.9], "relative_covariance": [[1e-05, 0.0, 0.0], [0.0, 2e-05, 0.0], [0.0, 0.0, 3e-05]], "to_xyz": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "card": {"name": "card", "corners": [[0.0, 0.0], [20.0, 0.0], [20.0, 20.0], [0.0, 20.0]], "role": "card"}, "value": {"xyz": [0.1736, 0.18, 0.1485], "words": "reflectance 0.18"}, "warnings": ["The card is a little uneven."], "photo_sha256": "", "root_degree": 1, "balance": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "tone": {"levels": [[0.1, 0.1, 0.1], [0.5, 0.5, 0.5]], "values": [[0.0316227766016838, 0.0316227766016838, 0.0316227766016838], [0.3535533905932738, 0.3535533905932738, 0.3535533905932738]], "weights": [], "anchor": [0.18, 0.18, 0.18], "words": "two greys"}, "developed": true, "camera": "", "space": "", "even": {"origin": [5.0, 5.0], "longest": 64.0, "slope": [[0.01, 0.01, 0.01], [0.01, 0.01, 0.01]], "grid": null, "size": [64, 48], "words": "cards"}, "measured": ["light", "tone"], "profile": {"camera": "a camera", "lamp": "north window", "date": "2026-03-31", "space": "sRGB", "balance": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "degree": 1, "to_xyz": [[0.9, 0.0, 0.0], [0.0, 0.9, 0.0], [0.0, 0.0, 0.9]], "tone": {"levels": [[0.1, 0.1, 0.1], [0.5, 0.5, 0.5]], "values": [[0.0316227766016838, 0.0316227766016838, 0.0316227766016838], [0.3535533905932738, 0.3535533905932738, 0.3535533905932738]], "weights": [], "anchor": [0.18, 0.18, 0.18], "words": "two greys"}, "tone_covariance": [], "gains": [1.1, 1.0, 0.9], "patches": 24, "mean": 1.2, "percentile_95": 2.5, "spread": 1.0}}',NULL,1.5,3,'2026-11-26T17:10:08+00:00','473c51fa1b05a8ed');
INSERT INTO "readings" VALUES(1,NULL,'1111111111111111111111111111111111111111111111111111111111111111','new gold','repair','[[80, 10], [110, 10], [110, 50], [80, 50]]',68.0,6.0,40.0,'[[0.09, 0.0, 0.0], [0.0, 0.04, 0.0], [0.0, 0.0, 0.0625]]','[[0.01, 0.0, 0.0], [0.0, 0.01, 0.0], [0.0, 0.0, 0.01]]',1500,12,1.25,0.75,'["Some glare was left out."]','{"gains": [1.1, 1.0, 0.9], "relative_covariance": [[1e-05, 0.0, 0.0], [0.0, 2e-05, 0.0], [0.0, 0.0, 3e-05]], "to_xyz": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "card": {"name": "card", "corners": [[0.0, 0.0], [20.0, 0.0], [20.0, 20.0], [0.0, 20.0]], "role": "card"}, "value": {"xyz": [0.1736, 0.18, 0.1485], "words": "reflectance 0.18"}, "warnings": ["The card is a little uneven."], "photo_sha256": "", "root_degree": 1, "balance": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "tone": {"levels": [], "values": [], "weights": [], "anchor": [0.18, 0.18, 0.18], "words": "as the file says"}, "developed": true, "camera": "", "space": "", "even": {"origin": [5.0, 5.0], "longest": 64.0, "slope": [[0.01, 0.01, 0.01], [0.01, 0.01, 0.01]], "grid": [[[0.75, 0.75, 0.75], [0.75, 0.75, 0.75]]], "size": [64, 48], "words": "sheet"}, "measured": [], "profile": null}',NULL,NULL,4,'2026-11-26T17:10:08+00:00','6e52e707de1b1479');
INSERT INTO "readings" VALUES(1,NULL,'0000000000000000000000000000000000000000000000000000000000000000','old gold','original','[[30, 10], [70, 10], [70, 50], [30, 50]]',60.0,8.0,32.0,'[[0.09, 0.0, 0.0], [0.0, 0.04, 0.0], [0.0, 0.0, 0.0625]]','[[0.01, 0.0, 0.0], [0.0, 0.01, 0.0], [0.0, 0.0, 0.01]]',1500,12,1.25,0.75,'["Some glare was left out."]','{"gains": [1.1, 1.0, 0.9], "relative_covariance": [[1e-05, 0.0, 0.0], [0.0, 2e-05, 0.0], [0.0, 0.0, 3e-05]], "to_xyz": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "card": {"name": "card", "corners": [[0.0, 0.0], [20.0, 0.0], [20.0, 20.0], [0.0, 20.0]], "role": "card"}, "value": {"xyz": [0.1736, 0.18, 0.1485], "words": "reflectance 0.18"}, "warnings": ["The card is a little uneven."], "photo_sha256": "", "root_degree": 1, "balance": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "tone": {"levels": [[0.1, 0.1, 0.1], [0.5, 0.5, 0.5]], "values": [[0.0316227766016838, 0.0316227766016838, 0.0316227766016838], [0.3535533905932738, 0.3535533905932738, 0.3535533905932738]], "weights": [], "anchor": [0.18, 0.18, 0.18], "words": "two greys"}, "developed": true, "camera": "", "space": "", "even": {"origin": [5.0, 5.0], "longest": 64.0, "slope": [[0.01, 0.01, 0.01], [0.01, 0.01, 0.01]], "grid": null, "size": [64, 48], "words": "cards"}, "measured": ["light", "tone"], "profile": {"camera": "a camera", "lamp": "north window", "date": "2026-03-31", "space": "sRGB", "balance": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "degree": 1, "to_xyz": [[0.9, 0.0, 0.0], [0.0, 0.9, 0.0], [0.0, 0.0, 0.9]], "tone": {"levels": [[0.1, 0.1, 0.1], [0.5, 0.5, 0.5]], "values": [[0.0316227766016838, 0.0316227766016838, 0.0316227766016838], [0.3535533905932738, 0.3535533905932738, 0.3535533905932738]], "weights": [], "anchor": [0.18, 0.18, 0.18], "words": "two greys"}, "tone_covariance": [], "gains": [1.1, 1.0, 0.9], "patches": 24, "mean": 1.2, "percentile_95": 2.5, "spread": 1.0}}',NULL,1.5,5,'2026-11-26T17:10:08+00:00','85158b40e5be584f');
INSERT INTO "readings" VALUES(1,NULL,'1111111111111111111111111111111111111111111111111111111111111111','new gold','repair','[[80, 10], [110, 10], [110, 50], [80, 50]]',68.0,6.0,40.0,'[[0.09, 0.0, 0.0], [0.0, 0.04, 0.0], [0.0, 0.0, 0.0625]]','[[0.01, 0.0, 0.0], [0.0, 0.01, 0.0], [0.0, 0.0, 0.01]]',1500,12,1.25,0.75,'["Some glare was left out."]','{"gains": [1.1, 1.0, 0.9], "relative_covariance": [[1e-05, 0.0, 0.0], [0.0, 2e-05, 0.0], [0.0, 0.0, 3e-05]], "to_xyz": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "card": {"name": "card", "corners": [[0.0, 0.0], [20.0, 0.0], [20.0, 20.0], [0.0, 20.0]], "role": "card"}, "value": {"xyz": [0.1736, 0.18, 0.1485], "words": "reflectance 0.18"}, "warnings": ["The card is a little uneven."], "photo_sha256": "", "root_degree": 1, "balance": [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], "tone": {"levels": [], "values": [], "weights": [], "anchor": [0.18, 0.18, 0.18], "words": "as the file says"}, "developed": true, "camera": "", "space": "", "even": {"origin": [5.0, 5.0], "longest": 64.0, "slope": [[0.01, 0.01, 0.01], [0.01, 0.01, 0.01]], "grid": [[[0.75, 0.75, 0.75], [0.75, 0.75, 0.75]]], "size": [64, 48], "words": "sheet"}, "measured": [], "profile": null}',NULL,NULL,6,'2026-11-26T17:10:08+00:00','e14759ed351403b4');
CREATE TABLE recipe_uses (
	piece_id INTEGER NOT NULL, 
	recipe_id INTEGER NOT NULL, 
	comparison_id INTEGER, 
	last_trial_id INTEGER, 
	id INTEGER NOT NULL, 
	made_at VARCHAR NOT NULL, 
	sum VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_recipe_uses PRIMARY KEY (id), 
	CONSTRAINT fk_recipe_uses_piece_id FOREIGN KEY(piece_id) REFERENCES pieces (id), 
	CONSTRAINT fk_recipe_uses_recipe_id FOREIGN KEY(recipe_id) REFERENCES recipes (id), 
	CONSTRAINT fk_recipe_uses_comparison_id FOREIGN KEY(comparison_id) REFERENCES comparisons (id), 
	CONSTRAINT fk_recipe_uses_last_trial_id FOREIGN KEY(last_trial_id) REFERENCES trials (id)
);
INSERT INTO "recipe_uses" VALUES(1,1,2,1,1,'2026-11-26T17:10:09+00:00','e79c51d3917203fd');
CREATE TABLE recipes (
	name VARCHAR NOT NULL, 
	steps JSON NOT NULL, 
	note VARCHAR NOT NULL, 
	removed_at VARCHAR, 
	id INTEGER NOT NULL, 
	made_at VARCHAR NOT NULL, 
	sum VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_recipes PRIMARY KEY (id), 
	CONSTRAINT uq_recipes_name UNIQUE (name)
);
INSERT INTO "recipes" VALUES('hall tone','[{"layer": "raw umber wash", "kind": "wash", "strength": 0.5, "coats": 2}, {"layer": "tea", "kind": "wash", "strength": 1.0, "coats": 1}]','weak',NULL,1,'2026-11-26T17:10:08+00:00','2e0a12026c5c7f98');
CREATE TABLE strip_sheets (
	piece_id INTEGER NOT NULL, 
	strips JSON NOT NULL, 
	ground JSON DEFAULT '{}' NOT NULL, 
	id INTEGER NOT NULL, 
	made_at VARCHAR NOT NULL, 
	sum VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_strip_sheets PRIMARY KEY (id), 
	CONSTRAINT fk_strip_sheets_piece_id FOREIGN KEY(piece_id) REFERENCES pieces (id)
);
INSERT INTO "strip_sheets" VALUES(1,'[{"steps": [{"layer": {"name": "tea", "kind": "wash", "material": "", "binder": "gum", "solvent": "unknown", "technique": "", "effect": "", "full_strength": "", "mix": null, "absorption": [0.1, 0.2, 0.3], "scattering": [0.0, 0.0, 0.1], "cover": 0.0, "beneath": "", "strengths": [0.5, 1.0], "most_coats": 2, "drying_hours": [0.5, 2.0], "reversible": "unknown", "taken_back_by": "", "over": "", "cautions": [], "source": "starting guess", "lustre": "", "at_hand": true}, "strength": 0.5, "coats": 2}], "first": [{"name": "my seal", "kind": "seal", "material": "", "binder": "unknown", "solvent": "unknown", "technique": "", "effect": "", "full_strength": "", "mix": null, "absorption": null, "scattering": null, "cover": 0.0, "beneath": "", "strengths": [0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875, 1.0], "most_coats": 2, "drying_hours": [0.0, 0.0], "reversible": "alcohol", "taken_back_by": "", "over": "", "cautions": ["Mind the fumes."], "source": "", "lustre": "", "at_hand": true}]}]','{"gilding": {"technique": "water", "finish": "burnished", "beneath": [], "hours_since_gilding": null, "historic": true, "unknown_coating": false, "humidity": 55.0, "temperature": null, "boles": ["red bole"], "read_before": [], "leaf": "", "glass": "unknown"}, "laid": [{"layer": {"name": "my seal", "kind": "seal", "material": "", "binder": "unknown", "solvent": "unknown", "technique": "", "effect": "", "full_strength": "", "mix": null, "absorption": null, "scattering": null, "cover": 0.0, "beneath": "", "strengths": [0.125, 0.25, 0.375, 0.5, 0.625, 0.75, 0.875, 1.0], "most_coats": 2, "drying_hours": [0.0, 0.0], "reversible": "alcohol", "taken_back_by": "", "over": "", "cautions": ["Mind the fumes."], "source": "", "lustre": "", "at_hand": true}, "strength": null, "coats": null, "read_before": null}, {"layer": {"name": "tea", "kind": "wash", "material": "", "binder": "gum", "solvent": "unknown", "technique": "", "effect": "", "full_strength": "", "mix": null, "absorption": [0.1, 0.2, 0.3], "scattering": [0.0, 0.0, 0.1], "cover": 0.0, "beneath": "", "strengths": [0.5, 1.0], "most_coats": 2, "drying_hours": [0.5, 2.0], "reversible": "unknown", "taken_back_by": "", "over": "", "cautions": [], "source": "starting guess", "lustre": "", "at_hand": true}, "strength": 0.5, "coats": 2, "read_before": null}], "bole": "red", "leaf": "23 ct"}',1,'2026-11-26T17:10:08+00:00','26e78e9cb13139c3');
CREATE TABLE trials (
	piece_id INTEGER, 
	date VARCHAR NOT NULL, 
	technique VARCHAR NOT NULL, 
	finish VARCHAR NOT NULL, 
	step INTEGER NOT NULL, 
	layer VARCHAR NOT NULL, 
	kind VARCHAR NOT NULL, 
	strength DOUBLE NOT NULL, 
	coats INTEGER NOT NULL, 
	"before_L" DOUBLE NOT NULL, 
	before_a DOUBLE NOT NULL, 
	before_b DOUBLE NOT NULL, 
	"after_L" DOUBLE NOT NULL, 
	after_a DOUBLE NOT NULL, 
	after_b DOUBLE NOT NULL, 
	before_lustre DOUBLE, 
	after_lustre DOUBLE, 
	temperature DOUBLE, 
	humidity DOUBLE, 
	note VARCHAR NOT NULL, 
	before_id INTEGER, 
	after_id INTEGER, 
	prediction JSON, 
	cautions JSON NOT NULL, 
	excluded BOOLEAN NOT NULL, 
	id INTEGER NOT NULL, 
	made_at VARCHAR NOT NULL, 
	sum VARCHAR DEFAULT '' NOT NULL, 
	CONSTRAINT pk_trials PRIMARY KEY (id), 
	CONSTRAINT ck_trials_strength CHECK (strength > 0), 
	CONSTRAINT ck_trials_coats CHECK (coats >= 1), 
	CONSTRAINT "ck_trials_before_L" CHECK (before_L BETWEEN 0 AND 100), 
	CONSTRAINT "ck_trials_after_L" CHECK (after_L BETWEEN 0 AND 100), 
	CONSTRAINT fk_trials_piece_id FOREIGN KEY(piece_id) REFERENCES pieces (id), 
	CONSTRAINT fk_trials_before_id FOREIGN KEY(before_id) REFERENCES readings (id), 
	CONSTRAINT fk_trials_after_id FOREIGN KEY(after_id) REFERENCES readings (id)
);
INSERT INTO "trials" VALUES(1,'2026-03-31','water','burnished',2,'raw umber wash','wash',0.25,2,70.25,5.5,40.125,62.0,6.0,36.1,1.5,NULL,NULL,NULL,'left edge',3,4,NULL,'[]',1,1,'2026-11-26T17:10:08+00:00','1055ec8f1f26d05a');
CREATE INDEX ix_changes_row_id ON changes (row_id);
CREATE INDEX ix_changes_made_at ON changes (made_at);
CREATE INDEX ix_changes_undoes ON changes (undoes);
CREATE INDEX ix_photographs_sha256 ON photographs (sha256);
CREATE INDEX ix_strip_sheets_piece_id ON strip_sheets (piece_id);
CREATE INDEX ix_readings_photograph_id ON readings (photograph_id);
CREATE INDEX ix_readings_piece_id ON readings (piece_id);
CREATE INDEX ix_comparisons_piece_id ON comparisons (piece_id);
CREATE INDEX ix_trials_laid ON trials (layer, kind, strength, coats, excluded);
CREATE INDEX ix_trials_piece_id ON trials (piece_id);
CREATE INDEX ix_proposals_piece_id ON proposals (piece_id);
CREATE INDEX ix_proposals_comparison_id ON proposals (comparison_id);
CREATE INDEX ix_layers_laid_piece_id ON layers_laid (piece_id);
CREATE INDEX ix_recipe_uses_recipe_id ON recipe_uses (recipe_id);
CREATE INDEX ix_recipe_uses_piece_id ON recipe_uses (piece_id);
CREATE INDEX ix_plans_proposal_id ON plans (proposal_id);
CREATE INDEX ix_plan_steps_plan_id ON plan_steps (plan_id);
COMMIT;
