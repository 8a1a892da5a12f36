-- CreateSchema
CREATE SCHEMA IF NOT EXISTS "public";

-- CreateEnum
CREATE TYPE "Role" AS ENUM ('director', 'editor', 'assistant', 'field', 'viewer');

-- CreateEnum
CREATE TYPE "ItemKind" AS ENUM ('part', 'slot');

-- CreateEnum
CREATE TYPE "PartRole" AS ENUM ('opening', 'body', 'closing');

-- CreateEnum
CREATE TYPE "ClipState" AS ENUM ('received', 'working', 'ready', 'failed');

-- CreateEnum
CREATE TYPE "Verdict" AS ENUM ('open', 'approve', 'hold', 'pass');

-- CreateEnum
CREATE TYPE "UploadState" AS ENUM ('arriving', 'arrived', 'refused', 'withdrawn');

-- CreateTable
CREATE TABLE "user" (
    "id" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "email" TEXT NOT NULL,
    "email_verified" BOOLEAN NOT NULL DEFAULT false,
    "image" TEXT,
    "keeper" BOOLEAN NOT NULL DEFAULT false,
    "bindings" JSONB NOT NULL DEFAULT '{}',
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "user_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "session" (
    "id" TEXT NOT NULL,
    "token" TEXT NOT NULL,
    "user_id" TEXT NOT NULL,
    "expires_at" TIMESTAMPTZ(3) NOT NULL,
    "ip_address" TEXT,
    "user_agent" TEXT,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "session_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "account" (
    "id" TEXT NOT NULL,
    "account_id" TEXT NOT NULL,
    "provider_id" TEXT NOT NULL,
    "user_id" TEXT NOT NULL,
    "access_token" TEXT,
    "refresh_token" TEXT,
    "id_token" TEXT,
    "access_token_expires_at" TIMESTAMPTZ(3),
    "refresh_token_expires_at" TIMESTAMPTZ(3),
    "scope" TEXT,
    "password" TEXT,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "account_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "verification" (
    "id" TEXT NOT NULL,
    "identifier" TEXT NOT NULL,
    "value" TEXT NOT NULL,
    "expires_at" TIMESTAMPTZ(3) NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "updated_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "verification_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "film" (
    "id" TEXT NOT NULL,
    "title" TEXT NOT NULL,
    "rate_num" INTEGER NOT NULL,
    "rate_den" INTEGER NOT NULL,
    "drop_frame" BOOLEAN NOT NULL DEFAULT false,
    "target_frames" INTEGER NOT NULL,
    "invented" BOOLEAN NOT NULL DEFAULT false,
    "last_seq" INTEGER NOT NULL DEFAULT 0,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "film_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "member" (
    "film_id" TEXT NOT NULL,
    "user_id" TEXT NOT NULL,
    "role" "Role" NOT NULL,
    "may_comment" BOOLEAN NOT NULL DEFAULT true,
    "joined_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "member_pkey" PRIMARY KEY ("film_id","user_id")
);

-- CreateTable
CREATE TABLE "invitation" (
    "id" TEXT NOT NULL,
    "film_id" TEXT NOT NULL,
    "role" "Role" NOT NULL,
    "may_comment" BOOLEAN NOT NULL DEFAULT true,
    "token_hash" TEXT NOT NULL,
    "invited_by_id" TEXT NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "expires_at" TIMESTAMPTZ(3) NOT NULL,
    "accepted_at" TIMESTAMPTZ(3),
    "accepted_by" TEXT,
    "revoked_at" TIMESTAMPTZ(3),

    CONSTRAINT "invitation_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "item" (
    "id" TEXT NOT NULL,
    "film_id" TEXT NOT NULL,
    "kind" "ItemKind" NOT NULL,
    "parent_id" TEXT,
    "order_key" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "role" "PartRole" NOT NULL DEFAULT 'body',
    "target_frames" INTEGER,
    "must_show" TEXT NOT NULL DEFAULT '',
    "comes_in" TEXT NOT NULL DEFAULT '',
    "goes_out" TEXT NOT NULL DEFAULT '',
    "decisions" INTEGER NOT NULL DEFAULT 0,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "removed_at" TIMESTAMPTZ(3),
    "removal_id" TEXT,

    CONSTRAINT "item_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "clip" (
    "id" TEXT NOT NULL,
    "film_id" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "original_path" TEXT NOT NULL,
    "bytes" BIGINT NOT NULL,
    "xxh64" TEXT NOT NULL,
    "source_xxh64" TEXT,
    "camera" TEXT NOT NULL DEFAULT '',
    "card" TEXT NOT NULL DEFAULT '',
    "shoot_day" DATE,
    "location" TEXT NOT NULL DEFAULT '',
    "state" "ClipState" NOT NULL DEFAULT 'received',
    "uploaded_by_id" TEXT NOT NULL,
    "received_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "removed_at" TIMESTAMPTZ(3),
    "rate_num" INTEGER,
    "rate_den" INTEGER,
    "variable_rate" BOOLEAN NOT NULL DEFAULT false,
    "frames" INTEGER,
    "start_frame" INTEGER NOT NULL DEFAULT 0,
    "drop_frame" BOOLEAN NOT NULL DEFAULT false,
    "width" INTEGER,
    "height" INTEGER,
    "rotation" INTEGER NOT NULL DEFAULT 0,
    "audio_channels" INTEGER NOT NULL DEFAULT 0,
    "captured_at" TIMESTAMPTZ(3),
    "captured_zone" INTEGER,
    "make" TEXT,
    "model" TEXT,
    "reel" TEXT,
    "probe" JSONB,
    "proxy_version" TEXT,
    "failure" JSONB,

    CONSTRAINT "clip_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "upload" (
    "id" TEXT NOT NULL,
    "film_id" TEXT NOT NULL,
    "user_id" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "relative_path" TEXT NOT NULL DEFAULT '',
    "bytes" BIGINT,
    "camera" TEXT NOT NULL DEFAULT '',
    "card" TEXT NOT NULL DEFAULT '',
    "source_xxh64" TEXT,
    "state" "UploadState" NOT NULL DEFAULT 'arriving',
    "refusal" JSONB,
    "clip_id" TEXT,
    "started_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "finished_at" TIMESTAMPTZ(3),

    CONSTRAINT "upload_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "seen" (
    "clip_id" TEXT NOT NULL,
    "user_id" TEXT NOT NULL,
    "ranges" int4multirange NOT NULL DEFAULT '{}'::int4multirange,

    CONSTRAINT "seen_pkey" PRIMARY KEY ("clip_id","user_id")
);

-- CreateTable
CREATE TABLE "select" (
    "id" TEXT NOT NULL,
    "film_id" TEXT NOT NULL,
    "clip_id" TEXT NOT NULL,
    "in" INTEGER NOT NULL,
    "out_exclusive" INTEGER NOT NULL,
    "circled" BOOLEAN NOT NULL DEFAULT false,
    "label" TEXT NOT NULL DEFAULT '',
    "made_by_id" TEXT NOT NULL,
    "made_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "removed_at" TIMESTAMPTZ(3),

    CONSTRAINT "select_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "offer" (
    "id" TEXT NOT NULL,
    "film_id" TEXT NOT NULL,
    "slot_id" TEXT NOT NULL,
    "select_id" TEXT NOT NULL,
    "clip_id" TEXT NOT NULL,
    "in" INTEGER NOT NULL,
    "out_exclusive" INTEGER NOT NULL,
    "order_key" TEXT NOT NULL,
    "verdict" "Verdict" NOT NULL DEFAULT 'open',
    "reason" TEXT NOT NULL DEFAULT '',
    "decided_by_id" TEXT,
    "decided_at" TIMESTAMPTZ(3),
    "offered_by_id" TEXT NOT NULL,
    "offered_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "removed_at" TIMESTAMPTZ(3),

    CONSTRAINT "offer_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "note" (
    "id" TEXT NOT NULL,
    "film_id" TEXT NOT NULL,
    "clip_id" TEXT,
    "offer_id" TEXT,
    "slot_id" TEXT,
    "parent_id" TEXT,
    "in" INTEGER,
    "out_exclusive" INTEGER,
    "text" TEXT NOT NULL,
    "drawing" JSONB,
    "addressed" TEXT[],
    "author_id" TEXT NOT NULL,
    "written_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "edited_at" TIMESTAMPTZ(3),
    "settled_at" TIMESTAMPTZ(3),
    "settled_by_id" TEXT,
    "removed_at" TIMESTAMPTZ(3),

    CONSTRAINT "note_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "event" (
    "film_id" TEXT NOT NULL,
    "seq" INTEGER NOT NULL,
    "actor_id" TEXT,
    "client" TEXT,
    "kind" TEXT NOT NULL,
    "subject" TEXT NOT NULL,
    "rows" JSONB NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "event_pkey" PRIMARY KEY ("film_id","seq")
);

-- CreateIndex
CREATE UNIQUE INDEX "user_email_key" ON "user"("email");

-- CreateIndex
CREATE UNIQUE INDEX "session_token_key" ON "session"("token");

-- CreateIndex
CREATE INDEX "session_user_id_idx" ON "session"("user_id");

-- CreateIndex
CREATE INDEX "account_user_id_idx" ON "account"("user_id");

-- CreateIndex
CREATE INDEX "verification_identifier_idx" ON "verification"("identifier");

-- CreateIndex
CREATE INDEX "member_user_id_idx" ON "member"("user_id");

-- CreateIndex
CREATE UNIQUE INDEX "invitation_token_hash_key" ON "invitation"("token_hash");

-- CreateIndex
CREATE INDEX "invitation_film_id_idx" ON "invitation"("film_id");

-- CreateIndex
CREATE INDEX "item_film_id_parent_id_order_key_idx" ON "item"("film_id", "parent_id", "order_key");

-- CreateIndex
CREATE INDEX "item_parent_id_idx" ON "item"("parent_id");

-- CreateIndex
CREATE INDEX "clip_film_id_shoot_day_camera_idx" ON "clip"("film_id", "shoot_day", "camera");

-- CreateIndex
CREATE INDEX "upload_film_id_state_idx" ON "upload"("film_id", "state");

-- CreateIndex
CREATE INDEX "select_film_id_idx" ON "select"("film_id");

-- CreateIndex
CREATE INDEX "select_clip_id_idx" ON "select"("clip_id");

-- CreateIndex
CREATE INDEX "offer_film_id_idx" ON "offer"("film_id");

-- CreateIndex
CREATE INDEX "offer_slot_id_order_key_idx" ON "offer"("slot_id", "order_key");

-- CreateIndex
CREATE INDEX "offer_clip_id_idx" ON "offer"("clip_id");

-- CreateIndex
CREATE INDEX "offer_select_id_idx" ON "offer"("select_id");

-- CreateIndex
CREATE INDEX "note_film_id_idx" ON "note"("film_id");

-- CreateIndex
CREATE INDEX "note_clip_id_idx" ON "note"("clip_id");

-- CreateIndex
CREATE INDEX "note_offer_id_idx" ON "note"("offer_id");

-- CreateIndex
CREATE INDEX "note_parent_id_idx" ON "note"("parent_id");

-- AddForeignKey
ALTER TABLE "session" ADD CONSTRAINT "session_user_id_fkey" FOREIGN KEY ("user_id") REFERENCES "user"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "account" ADD CONSTRAINT "account_user_id_fkey" FOREIGN KEY ("user_id") REFERENCES "user"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "member" ADD CONSTRAINT "member_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "member" ADD CONSTRAINT "member_user_id_fkey" FOREIGN KEY ("user_id") REFERENCES "user"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "invitation" ADD CONSTRAINT "invitation_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "item" ADD CONSTRAINT "item_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "item" ADD CONSTRAINT "item_parent_id_fkey" FOREIGN KEY ("parent_id") REFERENCES "item"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "clip" ADD CONSTRAINT "clip_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "upload" ADD CONSTRAINT "upload_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "seen" ADD CONSTRAINT "seen_clip_id_fkey" FOREIGN KEY ("clip_id") REFERENCES "clip"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "select" ADD CONSTRAINT "select_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "select" ADD CONSTRAINT "select_clip_id_fkey" FOREIGN KEY ("clip_id") REFERENCES "clip"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "offer" ADD CONSTRAINT "offer_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "offer" ADD CONSTRAINT "offer_slot_id_fkey" FOREIGN KEY ("slot_id") REFERENCES "item"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "offer" ADD CONSTRAINT "offer_select_id_fkey" FOREIGN KEY ("select_id") REFERENCES "select"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "offer" ADD CONSTRAINT "offer_clip_id_fkey" FOREIGN KEY ("clip_id") REFERENCES "clip"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "note" ADD CONSTRAINT "note_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "note" ADD CONSTRAINT "note_clip_id_fkey" FOREIGN KEY ("clip_id") REFERENCES "clip"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "note" ADD CONSTRAINT "note_offer_id_fkey" FOREIGN KEY ("offer_id") REFERENCES "offer"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "note" ADD CONSTRAINT "note_slot_id_fkey" FOREIGN KEY ("slot_id") REFERENCES "item"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "note" ADD CONSTRAINT "note_parent_id_fkey" FOREIGN KEY ("parent_id") REFERENCES "note"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "event" ADD CONSTRAINT "event_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- What the schema language cannot say.

-- One pick a slot: whatever code does, a second approved offer of one slot cannot be written.
CREATE UNIQUE INDEX "offer_one_pick_a_slot" ON "offer" ("slot_id") WHERE "verdict" = 'approve' AND "removed_at" IS NULL;
-- A select is on offer for a slot once.
CREATE UNIQUE INDEX "offer_select_once_a_slot" ON "offer" ("slot_id", "select_id") WHERE "removed_at" IS NULL;
-- A file sent twice is one clip; bytes are part of the identity because a 64-bit hash alone may collide.
CREATE UNIQUE INDEX "clip_once_a_film" ON "clip" ("film_id", "xxh64", "bytes") WHERE "removed_at" IS NULL;

ALTER TABLE "select" ADD CONSTRAINT "select_range" CHECK ("in" >= 0 AND "out_exclusive" > "in");
ALTER TABLE "offer" ADD CONSTRAINT "offer_range" CHECK ("in" >= 0 AND "out_exclusive" > "in");
ALTER TABLE "note" ADD CONSTRAINT "note_range" CHECK (("in" IS NULL) = ("out_exclusive" IS NULL) AND ("in" IS NULL OR ("in" >= 0 AND "out_exclusive" > "in")));
ALTER TABLE "note" ADD CONSTRAINT "note_subject" CHECK (num_nonnulls("clip_id", "slot_id") = 1 AND ("offer_id" IS NULL OR "clip_id" IS NOT NULL));
ALTER TABLE "film" ADD CONSTRAINT "film_rate" CHECK ("rate_num" > 0 AND "rate_den" > 0 AND "target_frames" > 0);
ALTER TABLE "item" ADD CONSTRAINT "item_slot_in_part" CHECK ("kind" = 'part' OR "parent_id" IS NOT NULL);
ALTER TABLE "item" ADD CONSTRAINT "item_length" CHECK ("target_frames" IS NULL OR "target_frames" > 0);
ALTER TABLE "clip" ADD CONSTRAINT "clip_measured" CHECK ("state" <> 'ready' OR ("rate_num" IS NOT NULL AND "rate_den" IS NOT NULL AND "frames" > 0 AND "proxy_version" IS NOT NULL));
-- The first account is made once, even when two people ask at the same moment.
CREATE UNIQUE INDEX "user_one_keeper" ON "user" ("keeper") WHERE "keeper";
