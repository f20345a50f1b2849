/** The server's one door to brokers: for the simulated gateways, and for stack lights. It subscribes to nothing. */
export { connect, type MqttClient } from 'mqtt';
