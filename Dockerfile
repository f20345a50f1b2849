# One image for both processes: docker-compose.yml says which one a container runs.
FROM node:20.20.2-bookworm-slim AS page
WORKDIR /app
COPY package.json package-lock.json ./
RUN npm ci --no-audit --no-fund
COPY tsconfig.json ./
COPY shared shared
COPY web web
RUN npm run build

FROM node:20.20.2-bookworm-slim
ENV NODE_ENV=production
WORKDIR /app
COPY package.json package-lock.json ./
RUN npm ci --omit=dev --no-audit --no-fund && npm cache clean --force
COPY tsconfig.json ./
COPY shared shared
COPY db db
COPY ingest ingest
COPY server server
COPY --from=page /app/web/dist web/dist
# the image's own ordinary user; nothing under /app is writable to it
USER node
EXPOSE 8080
STOPSIGNAL SIGTERM
CMD ["node", "--import", "tsx", "server/serve.ts"]
